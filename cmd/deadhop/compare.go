package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"deadhop/edid"
)

type compareReport struct {
	Version     int              `json:"version"`
	A           string           `json:"a"`
	B           string           `json:"b"`
	Same        bool             `json:"same"`
	Differences []compareMeaning `json:"differences"`
	Bytes       []compareBytes   `json:"bytes"`
}

type compareMeaning struct {
	What  string `json:"what"`
	A     string `json:"a"`
	B     string `json:"b"`
	Means string `json:"means,omitempty"`
}

type compareBytes struct {
	Block  int    `json:"block"`
	Offset int    `json:"offset"`
	A      string `json:"a"` // hex
	B      string `json:"b"`
}

func newCompare(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "compare A B",
		Short: "Say what two EDIDs state differently",
		Long: `Compares two EDIDs by meaning and by bytes: A is the one before a switch or an
extender, or the known-good one; B is the one behind it, or the one in doubt.
Each may be a file, a port, or - for standard input.

The exit code is 0 when they are the same bytes and 1 when they differ.`,
		Example: `  deadhop compare golden.bin out:HDMI-A-1
  deadhop compare before.bin after.bin --json`,
		Args: exactly("the first EDID", "the second EDID"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.compare(cmd.Context(), args[0], args[1])
		},
	}
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) compare(ctx context.Context, nameA, nameB string) error {
	if nameA == "-" && nameB == "-" {
		return &usageError{"deadhop compare", fmt.Errorf("standard input can be only one of the two")}
	}
	var in [2]input
	var decoded [2]*edid.EDID
	for i, name := range []string{nameA, nameB} {
		var err error
		if in[i], err = a.readEDID(ctx, name, 2); err != nil {
			return err
		}
		if decoded[i], err = edid.Decode(in[i].bytes); err != nil {
			return badInputf("%s: %w", in[i].name, err)
		}
	}
	r := compareReport{Version: 1, A: in[0].name, B: in[1].name, Differences: []compareMeaning{}, Bytes: []compareBytes{}}
	for _, d := range edid.Compare(decoded[0], decoded[1]) {
		r.Differences = append(r.Differences, compareMeaning{d.What, d.A, d.B, d.Means})
	}
	for _, b := range edid.CompareBytes(in[0].bytes, in[1].bytes) {
		r.Bytes = append(r.Bytes, compareBytes{b.Block, b.Offset, fmt.Sprintf("%x", b.A), fmt.Sprintf("%x", b.B)})
	}
	r.Same = len(r.Bytes) == 0
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printCompare(r)
	}
	if r.Same {
		return nil
	}
	return finish(exitFault)
}

func (a *app) printCompare(r compareReport) {
	if r.Same {
		fmt.Fprintf(a.out, "The same: %s and %s are equal byte for byte.\n", r.A, r.B)
		return
	}
	fmt.Fprintf(a.out, "Different.\n  A is %s\n  B is %s\n\n", r.A, r.B)
	none := func(s string) string {
		if s == "" {
			return "none"
		}
		return s
	}
	for _, d := range r.Differences {
		fmt.Fprintf(a.out, "%s\n", d.What)
		a.paragraph("    A  ", none(d.A))
		a.paragraph("    B  ", none(d.B))
		if d.Means != "" {
			a.paragraph("    so ", d.Means)
		}
	}
	if len(r.Differences) == 0 {
		fmt.Fprintln(a.out, "  nothing that a source reads; only bytes without a meaning differ")
	}
	fmt.Fprintln(a.out, "\nBytes")
	for i, b := range r.Bytes {
		if i == 16 {
			fmt.Fprintf(a.out, "  and %d more places (see --json)\n", len(r.Bytes)-i)
			break
		}
		place := fmt.Sprintf("  block %d, byte 0x%02X  ", b.Block, b.Offset)
		fmt.Fprintf(a.out, "%sA %s\n%*sB %s\n", place, none(b.A), len(place), "", none(b.B))
	}
}
