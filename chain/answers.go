package chain

// Answers lists the answers that a hand check knows, in the order in which to
// offer them. It is empty for a supply check, whose answer is a voltage.
func (k CheckKind) Answers() []string { return append([]string(nil), checkAnswers[k]...) }
