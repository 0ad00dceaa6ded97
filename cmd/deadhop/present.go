package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"deadhop/ddc"
	"deadhop/edid"
)

// withdrawWord stands for no EDID at all.
const withdrawWord = "nothing"

type presentReport struct {
	Version   int    `json:"version"`
	Port      string `json:"port"`
	Bytes     int    `json:"bytes"` // asked for; 0 withdraws
	SHA256    string `json:"sha256,omitempty"`
	Identity  string `json:"identity,omitempty"`
	Shown     []byte `json:"shown"` // as read back
	AsGiven   bool   `json:"as_given"`
	Different []int  `json:"different_at"` // offsets of the bytes that came back otherwise
	Trouble   string `json:"trouble,omitempty"`
}

func newPresent(a *app) *cobra.Command {
	var portName string
	cmd := &cobra.Command{
		Use:   "present FILE|-|nothing",
		Short: "Show a source an EDID, so that the bench stands in for the display",
		Long: `Makes a video receiver show an EDID to the source that is plugged into it, and
reads back what it shows. The receiver lowers and raises hot-plug with it, so the
source reads it anew. It stays until another one is presented; "nothing"
withdraws it and lets hot-plug fall.

Some receivers recompute checksums: an EDID with a bad checksum then reaches the
source whole, and a fault that it should provoke does not come. What was changed
on the way is said, and the exit code is 3, since the test asked for could not
be made.`,
		Example: `  deadhop present scaler.bin --port in:video0
  deadhop present nothing --port in:video0
  deadhop build board.yaml --out board.bin && deadhop present board.bin --port in:video0`,
		Args: exactly("the EDID's file, - for standard input, or the word nothing"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.presentEDID(cmd.Context(), args[0], portName)
		},
	}
	cmd.Flags().StringVar(&portName, "port", "", "video receiver to show it on (may be left out where there is only one)")
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) presentEDID(ctx context.Context, source, portName string) error {
	var in input
	if source != withdrawWord {
		if isPortName(source) {
			return badInputf("%s is a port: save its EDID to a file first, so that what is presented stays known", source)
		}
		var err error
		if in, err = a.readEDID(ctx, source, 1); err != nil {
			return err
		}
		if n := len(in.bytes); n == 0 || n%edid.BlockSize != 0 {
			return badInputf("%s: %d bytes are not whole blocks of 128, which a receiver needs", in.name, n)
		}
	}
	bench, simulated, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	port, err := findPort(ctx, bench, portName, func(p ddc.Port) bool { return portName != "" || p.Info().Kind == ddc.InPort })
	if err != nil {
		return err
	}
	receiver, ok := port.(ddc.In)
	if !ok {
		return badInputf("%s is no receiver: only an in: port can show an EDID to a source", port.Info().ID)
	}
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	r := presentReport{Version: 1, Port: port.Info().ID, Bytes: len(in.bytes), Different: []int{}}
	var e *edid.EDID
	if len(in.bytes) > 0 {
		r.SHA256 = hashOf(in.bytes)
		if e, err = edid.Decode(in.bytes); err == nil {
			r.Identity = e.Identity().String()
		}
	}
	presentErr := receiver.PresentEDID(ctx, in.bytes)
	back, err := receiver.PresentedEDID(ctx)
	if err != nil {
		return fmt.Errorf("read back what %s shows: %w", r.Port, err)
	}
	r.Shown, r.Different = back, differentAt(in.bytes, back)
	r.AsGiven = len(r.Different) == 0
	if presentErr != nil {
		r.Trouble = presentErr.Error()
	}
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printPresented(&r, e, simulated != nil)
	}
	if !r.AsGiven {
		return finish(exitCannotTest)
	}
	return nil
}

// differentAt lists the offsets at which two EDIDs differ, those that only
// one of them has included.
func differentAt(want, got []byte) []int {
	at := []int{}
	for i := range max(len(want), len(got)) {
		if i >= len(want) || i >= len(got) || want[i] != got[i] {
			at = append(at, i)
		}
	}
	return at
}

func (a *app) printPresented(r *presentReport, e *edid.EDID, simulated bool) {
	switch {
	case r.AsGiven && r.Bytes == 0:
		fmt.Fprintf(a.out, "%s shows no EDID; hot-plug is low.\n", r.Port)
	case r.AsGiven:
		fmt.Fprintf(a.out, "%s shows the EDID of %s, %d bytes; read back byte by byte.\n", r.Port, r.Identity, r.Bytes)
		if e != nil && !e.ChecksumsGood() {
			a.paragraph("Mind  ", "a checksum of it is wrong. It reads back as given, but some receivers mend checksums on the way to the source, which reading back cannot show.")
		}
	default:
		fmt.Fprintf(a.out, "%s does not show what was asked for: %d bytes asked for, %d shown, %d differ%s.\n",
			r.Port, r.Bytes, len(r.Shown), len(r.Different), firstOffsets(r.Different))
		if r.Trouble != "" {
			a.paragraph("Why   ", r.Trouble)
		}
	}
	if simulated {
		fmt.Fprintln(a.out, "A simulated bench forgets it when deadhop ends; look and guide present by themselves.")
	}
}

// firstOffsets names the first few offsets of a list.
func firstOffsets(at []int) string {
	if len(at) == 0 {
		return ""
	}
	s := " at"
	for i, offset := range at {
		if i == 4 {
			return s + " and on"
		}
		s += fmt.Sprintf(" 0x%02X", offset)
	}
	return s
}
