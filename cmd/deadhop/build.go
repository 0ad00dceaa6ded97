package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"deadhop/edid"
)

func newBuild(a *app) *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:   "build DISPLAY.yaml",
		Short: "Make a legal EDID from a short description of a display",
		Long: `Makes an EDID of a display described in YAML, for a bench to present. What no
EDID can express is refused, with the line of the description and the clause of
the standard. The file must not exist yet: nothing is overwritten.`,
		Example: "  deadhop build board.yaml --out board.bin\n  deadhop decode board.bin",
		Args:    exactly("the description of the display"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if out == "" {
				return &usageError{cmd.CommandPath(), errors.New("--out is missing: the file to write the EDID to")}
			}
			data, err := os.ReadFile(args[0])
			if err != nil {
				return badInputf("cannot read the description: %w", err)
			}
			b, err := edid.BuildYAML(args[0], data)
			if err != nil {
				return badInput(err)
			}
			if err := writeNew(out, b); err != nil {
				return err
			}
			e, err := edid.Decode(b)
			if err != nil {
				return err
			}
			fmt.Fprintf(a.out, "Written: %s, %d bytes, %s\n", out, len(b), e.Identity())
			return nil
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "file to write the EDID to; it must not exist yet")
	return cmd
}
