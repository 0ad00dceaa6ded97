package edid

import (
	"bytes"
	"fmt"
	"unicode/utf8"
)

// InputError says where a text that should hold hexadecimal bytes holds
// something else. Line and Col count from 1, Col in characters.
type InputError struct {
	Line, Col int
	Msg       string
}

func (e *InputError) Error() string { return fmt.Sprintf("%d:%d: %s", e.Line, e.Col, e.Msg) }

// ParseInput turns a file's contents into EDID bytes. Raw bytes are taken as
// they are; text is read as hexadecimal bytes in any layout: pairs with or
// without spaces, commas, semicolons, colons, dashes or quotes between them,
// 0x or \x before them, braces and brackets around them, blank lines, an
// offset with a colon at the start of a line ("0010:" or "00000010: "), and
// comments from # or // to the end of the line.
//
// What is neither gives an *InputError with line and column.
func ParseInput(b []byte) ([]byte, error) {
	if !isText(b) {
		return b, nil
	}
	p := hexReader{out: make([]byte, 0, len(b)/2)}
	for n, line := range bytes.Split(b, []byte{'\n'}) {
		p.line = n + 1
		if err := p.readLine(line); err != nil {
			return nil, err
		}
	}
	return p.out, nil
}

// isText tells hexadecimal text from raw bytes. Raw EDID bytes hold control
// characters within the first eight bytes unless they are badly damaged, and
// even then somewhere; text holds none but line ends and tabs.
func isText(b []byte) bool {
	if len(b) == 0 || !utf8.Valid(b) {
		return false
	}
	for _, c := range b {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' {
			return false
		}
	}
	return true
}

type hexReader struct {
	out  []byte
	line int
}

func (p *hexReader) readLine(line []byte) error {
	line, col0 := cutOffset(line)
	for i := 0; i < len(line); {
		c := line[i]
		switch {
		case c == '#' || c == '/' && i+1 < len(line) && line[i+1] == '/':
			return nil
		case bytes.IndexByte([]byte(" \t\r,;:-'\"{}[]"), c) >= 0:
			i++
		case (c == '0' || c == '\\') && i+1 < len(line) && (line[i+1] == 'x' || line[i+1] == 'X'):
			i += 2
			if i >= len(line) || nibble(line[i]) < 0 {
				return p.fail(line, i, col0, "hexadecimal digits must follow 0x")
			}
			n := digits(line[i:])
			if n%2 == 1 && n != 1 {
				return p.fail(line, i, col0, "an odd number of hexadecimal digits")
			}
			p.take(line[i:i+n], n == 1)
			i += n
		case nibble(c) >= 0:
			n := digits(line[i:])
			if i+n < len(line) && nibble(line[i+n]) < 0 && isLetter(line[i+n]) {
				return p.fail(line, i+n, col0, "")
			}
			if n%2 == 1 {
				return p.fail(line, i+n-1, col0, "a single hexadecimal digit where a pair is needed")
			}
			p.take(line[i:i+n], false)
			i += n
		default:
			return p.fail(line, i, col0, "")
		}
	}
	return nil
}

func (p *hexReader) fail(line []byte, i, col0 int, msg string) error {
	if msg == "" {
		r, _ := utf8.DecodeRune(line[i:])
		msg = fmt.Sprintf("%q is no hexadecimal digit", r)
	}
	return &InputError{Line: p.line, Col: col0 + utf8.RuneCount(line[:i]) + 1, Msg: msg}
}

func (p *hexReader) take(d []byte, single bool) {
	if single {
		p.out = append(p.out, byte(nibble(d[0])))
		return
	}
	for i := 0; i+1 < len(d); i += 2 {
		p.out = append(p.out, byte(nibble(d[i])<<4|nibble(d[i+1])))
	}
}

// cutOffset drops an offset at the start of a line: digits and a colon, with
// three digits or more ("0010:") or a blank behind ("10: "). A pair and a colon
// alone is data ("00:ff:ff"). It also tells how many
// characters it dropped.
func cutOffset(line []byte) (rest []byte, dropped int) {
	i := 0
	for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
		i++
	}
	if i+1 < len(line) && line[i] == '0' && (line[i+1] == 'x' || line[i+1] == 'X') {
		i += 2
	}
	n := digits(line[i:])
	end := i + n
	if n == 0 || end >= len(line) || line[end] != ':' {
		return line, 0
	}
	if n > 2 || end+1 < len(line) && (line[end+1] == ' ' || line[end+1] == '\t') {
		return line[end+1:], end + 1
	}
	return line, 0
}

func digits(b []byte) int {
	n := 0
	for n < len(b) && nibble(b[n]) >= 0 {
		n++
	}
	return n
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' || c >= 0x80 }

func nibble(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c|0x20 >= 'a' && c|0x20 <= 'f':
		return int(c|0x20-'a') + 10
	}
	return -1
}
