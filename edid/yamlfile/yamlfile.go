// Package yamlfile reads the project's YAML files strictly: a misspelt key, a
// duplicate key or a tab in the indentation is an error, and every error says
// file, line and column. It is the one door for YAML, so that all files fail
// in the same words.
package yamlfile

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Error is a fault in a YAML file with its place. Line and Col count from 1;
// 0 means that the fault has no single place.
type Error struct {
	File      string
	Line, Col int
	Msg       string
}

func (e *Error) Error() string {
	switch {
	case e.Line > 0:
		return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Col, e.Msg)
	default:
		return fmt.Sprintf("%s: %s", e.File, e.Msg)
	}
}

// File is a parsed YAML file. It remembers where each key stands, so that a
// check made after decoding can still name line and column.
type File struct {
	name string
	root ast.Node
}

// Decode parses data strictly into the struct that into points to. Errors are
// *Error, or several of them joined.
func Decode(name string, data []byte, into any) (*File, error) {
	if len(strings.TrimSpace(string(data))) == 0 {
		return nil, &Error{File: name, Msg: "the file is empty"}
	}
	for i, line := range strings.Split(string(data), "\n") {
		indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
		if at := strings.IndexByte(indent, '\t'); at >= 0 && strings.TrimSpace(line) != "" {
			return nil, &Error{File: name, Line: i + 1, Col: at + 1,
				Msg: "a tab in the indentation: YAML allows only spaces there"}
		}
	}
	parsed, err := parser.ParseBytes(data, 0)
	if err != nil {
		return nil, wrap(name, err)
	}
	if len(parsed.Docs) != 1 {
		return nil, &Error{File: name, Msg: fmt.Sprintf("holds %d YAML documents where one is expected", len(parsed.Docs))}
	}
	f := &File{name: name, root: parsed.Docs[0].Body}
	if f.root == nil {
		return nil, &Error{File: name, Msg: "the file is empty"}
	}
	if err := decode(data, into); err != nil {
		return f, wrap(name, err)
	}
	return f, nil
}

// decode is the library's strict decoder. It panics, as of v1.19, where a
// list is longer than the Go array that it goes into; that is an error of the
// file, not of the program.
func decode(data []byte, into any) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a value does not fit its place (%v): a list may be too long", p)
		}
	}()
	return yaml.NewDecoder(strings.NewReader(string(data)), yaml.Strict()).Decode(into)
}

// Errorf makes an error at the place of the YAML path, such as
// "$.links[1].to". Where the path itself is absent, its nearest parent is the
// place.
func (f *File) Errorf(path, format string, args ...any) error {
	e := &Error{File: f.name, Msg: fmt.Sprintf(format, args...)}
	e.Line, e.Col = f.at(path)
	return e
}

func (f *File) at(path string) (line, col int) {
	for path != "" && path != "$" {
		if p, err := yaml.PathString(path); err == nil {
			if n, err := p.FilterNode(f.root); err == nil && n != nil {
				pos := n.GetToken().Position
				return pos.Line, pos.Column
			}
		}
		cut := strings.LastIndexAny(path, ".[")
		if cut <= 0 {
			break
		}
		path = path[:cut]
	}
	if f.root != nil && f.root.GetToken() != nil {
		return 1, 1
	}
	return 0, 0
}

// wrap turns the parser's error into ours and drops its source excerpt, which
// would not fit on one line.
func wrap(name string, err error) error {
	var ye yaml.Error
	if !errors.As(err, &ye) {
		return &Error{File: name, Msg: err.Error()}
	}
	e := &Error{File: name, Msg: plain(ye.GetMessage())}
	if t := ye.GetToken(); t != nil {
		e.Line, e.Col = t.Position.Line, t.Position.Column
	}
	return e
}

var (
	wrongType = regexp.MustCompile(`^cannot unmarshal (\S+) into Go (?:struct field \S+|value) of type (\S+)$`)
	twice     = regexp.MustCompile(`^mapping key "(.*)" already defined at \[(\d+):\d+\]$`)
)

// plain puts the parser's words into ours; what it does not know stays.
func plain(msg string) string {
	if m := wrongType.FindStringSubmatch(msg); m != nil {
		return fmt.Sprintf("%s where %s is expected", kindWord(m[1]), kindWord(m[2]))
	}
	if m := twice.FindStringSubmatch(msg); m != nil {
		return fmt.Sprintf("the key %q stands here twice, first on line %s", m[1], m[2])
	}
	return strings.Replace(msg, "unknown field", "unknown key", 1)
}

// kindWord names a Go type in a reader's words.
func kindWord(goType string) string {
	goType = strings.TrimLeft(goType, "*")
	switch {
	case strings.HasPrefix(goType, "int"), strings.HasPrefix(goType, "uint"):
		return "a whole number"
	case strings.HasPrefix(goType, "float"):
		return "a number"
	case goType == "string":
		return "text"
	case goType == "bool":
		return "true or false"
	case strings.HasPrefix(goType, "["):
		return "a list"
	}
	return "a mapping"
}
