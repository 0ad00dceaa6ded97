package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"deadhop/edid"
)

func newRepair(a *app) *cobra.Command {
	var golden, out string
	cmd := &cobra.Command{
		Use:   "repair FILE",
		Short: "Propose the smallest change that makes a damaged EDID legal",
		Long: `Shows, byte by byte, the smallest change that makes a damaged EDID legal again:
header, erased first bytes, timing offset, extension count, checksums. Nothing
is written unless --out names a new file; the file read is never changed. What
came from a bad read is refused, since the store may be whole.

The exit code is 0 when the EDID is whole or the repair cures it, and 1 when
nothing can be proposed or something that breaks the standard stays.`,
		Example: "  deadhop repair dump.bin\n  deadhop repair dump.bin --golden good-unit.bin --out repaired.bin",
		Args:    exactly("the damaged EDID's file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.repair(cmd.Context(), args[0], golden, out)
		},
	}
	f := cmd.Flags()
	f.StringVar(&golden, "golden", "", "known-good EDID of the same display, the only source for erased bytes")
	f.StringVar(&out, "out", "", "file to write the repaired EDID to; it must not exist yet")
	return cmd
}

func (a *app) repair(ctx context.Context, file, goldenFile, out string) error {
	in, err := a.readEDID(ctx, file, 2)
	if err != nil {
		return err
	}
	e, err := edid.Decode(in.bytes)
	if err != nil {
		return badInputf("%s: %w", in.name, err)
	}
	var golden []byte
	if goldenFile != "" {
		g, err := a.readEDID(ctx, goldenFile, 2)
		if err != nil {
			return err
		}
		golden = g.bytes
	}
	r := e.ProposeRepair(golden)
	if r.Refused != "" {
		a.paragraph("Refused  ", r.Refused)
		return finish(exitFault)
	}
	if len(r.Changes) == 0 {
		fmt.Fprintln(a.out, "Nothing to change: no damage that a repair could cure.")
	} else {
		fmt.Fprintf(a.out, "Change %d of %d bytes:\n", len(r.Changes), len(r.Bytes))
	}
	for _, c := range r.Changes {
		fmt.Fprintf(a.out, "  block %d, byte 0x%02X  %02X becomes %02X  %s (%s)\n", c.Block, c.Offset, c.Old, c.New, c.Why, c.Code)
	}
	for _, i := range r.Left {
		a.paragraph("Stays  ", fmt.Sprintf("%s: %s (%s)", i.Severity, i.Detail(), i.Spec()))
	}
	if len(r.Changes) > 0 {
		if out == "" {
			fmt.Fprintln(a.out, "Nothing was written; --out FILE writes the repaired EDID to a new file.")
		} else {
			if err := writeNew(out, r.Bytes); err != nil {
				return err
			}
			fmt.Fprintf(a.out, "Written: %s\n", out)
		}
	}
	if len(r.Left) > 0 {
		return finish(exitFault)
	}
	return nil
}
