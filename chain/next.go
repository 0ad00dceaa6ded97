package chain

// nextSteps ranks what to do next.
func nextSteps(b *belief, ev Evidence) []Step { return nil }
