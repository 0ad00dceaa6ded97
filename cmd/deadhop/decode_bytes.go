package main

import (
	"fmt"
	"io"

	"deadhop/edid"
)

// bytesPerRow keeps a row of the byte view within 100 columns.
const bytesPerRow = 9

// printBytes shows every byte with the field that it belongs to, and each
// issue below the first field that it concerns. Issues about what is missing
// or about a whole block stand at the head of their block.
func printBytes(w io.Writer, e *edid.EDID) {
	raw := e.Raw()
	shown := make([]bool, len(e.Issues))
	issues := func(block, from, to int) {
		for n, i := range e.Issues {
			if shown[n] || i.Block != block || i.Offset < from || i.Offset >= to {
				continue
			}
			shown[n] = true
			for k, l := range wrap(fmt.Sprintf("%s: %s (%s; %s)", i.Severity, i.Detail(), i.Code, i.Spec()), 84) {
				mark := "  !  "
				if k > 0 {
					mark = "     "
				}
				fmt.Fprintf(w, "%s%s\n", mark, l)
			}
		}
	}
	block := -1
	for _, f := range e.Fields() {
		if f.Block != block {
			if block >= 0 {
				fmt.Fprintln(w)
			}
			block = f.Block
			fmt.Fprintf(w, "Block %d\n", block)
			for n, i := range e.Issues {
				if i.Block == block && i.Len == 0 && !shown[n] {
					issues(block, i.Offset, i.Offset+1)
				}
			}
		}
		start := f.Block*edid.BlockSize + f.Offset
		b := raw[start : start+f.Len]
		name, value := f.Name, wrap(f.Value, 44)
		for at := 0; at < len(b) || len(value) > 0; at += bytesPerRow {
			place, hex, text := "", "", ""
			if at < len(b) {
				place = fmt.Sprintf("%02X", f.Offset+at)
				hex = fmt.Sprintf("% X", b[at:min(at+bytesPerRow, len(b))])
			}
			if len(value) > 0 {
				text, value = value[0], value[1:]
			}
			row := fmt.Sprintf("  %-3s %-*s  %-24s %s", place, 3*bytesPerRow-1, hex, name, text)
			for len(row) > 0 && row[len(row)-1] == ' ' {
				row = row[:len(row)-1]
			}
			fmt.Fprintln(w, row)
			name = ""
		}
		issues(f.Block, f.Offset, f.Offset+f.Len)
	}
	// What concerns a block that did not come stands at the end.
	for n, i := range e.Issues {
		if !shown[n] {
			fmt.Fprintf(w, "\nBlock %d\n", i.Block)
			issues(i.Block, i.Offset, i.Offset+1)
		}
	}
}
