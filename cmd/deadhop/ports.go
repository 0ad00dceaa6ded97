package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"deadhop/chain"
	"deadhop/ddc"
)

// portTime bounds what one port may take: a hung bus must not keep the others
// from being listed.
const portTime = 6 * time.Second

// portReport is one port in the JSON output.
type portReport struct {
	ID       string              `json:"id"`
	Kind     string              `json:"kind"`
	Label    string              `json:"label,omitempty"`
	Driver   string              `json:"driver,omitempty"`
	Devices  []string            `json:"devices,omitempty"`
	Observes []string            `json:"observes"`
	Cannot   []string            `json:"cannot_measure"`
	Trouble  string              `json:"trouble,omitempty"`
	Down     *chain.DownReadings `json:"down,omitempty"`
	Up       *chain.UpReadings   `json:"up,omitempty"`
}

type portsReport struct {
	Version int          `json:"version"`
	Ports   []portReport `json:"ports"`
	Trouble string       `json:"trouble,omitempty"`
}

func newPorts(a *app) *cobra.Command {
	var quick bool
	cmd := &cobra.Command{
		Use:   "ports",
		Short: "List the ports of this bench and what each one sees now",
		Long: `Lists every place on this machine that a hop can be plugged into, what each one
sees at this moment, and what it cannot measure. Nothing is changed on any port.`,
		Example: `  deadhop ports
  deadhop ports --json
  deadhop ports --quick       only list; read nothing from the wire`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.ports(cmd.Context(), quick)
		},
	}
	cmd.Flags().BoolVar(&quick, "quick", false, "only list the ports, read nothing from them")
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) ports(ctx context.Context, quick bool) error {
	bench, _, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	list, listErr := bench.Ports(ctx)
	report := portsReport{Version: 1, Ports: []portReport{}}
	if listErr != nil {
		report.Trouble = listErr.Error()
	}
	for _, p := range list {
		r := describePort(p.Info())
		if !quick {
			a.lookAtPort(ctx, p, &r)
		}
		report.Ports = append(report.Ports, r)
	}
	if a.json {
		if err := a.printJSON(report); err != nil {
			return err
		}
	} else {
		a.printPorts(report)
	}
	switch {
	case ctx.Err() != nil:
		return finish(exitInconclusive)
	case len(list) == 0:
		return finish(exitCannotTest)
	}
	return nil
}

func describePort(i ddc.PortInfo) portReport {
	r := portReport{ID: i.ID, Kind: portKindWord(i.Kind), Label: i.Label, Driver: i.Driver,
		Devices: i.Devices, Observes: []string{}, Cannot: []string{}}
	sees := map[ddc.Quantity]bool{}
	for _, q := range i.Observes {
		sees[q] = true
	}
	for _, q := range quantitiesOf(i.Kind) {
		if sees[q] {
			r.Observes = append(r.Observes, quantityWord(q))
		} else {
			r.Cannot = append(r.Cannot, quantityWord(q))
		}
	}
	if i.Trouble != nil {
		r.Trouble = i.Trouble.Error()
	}
	return r
}

func (a *app) lookAtPort(ctx context.Context, p ddc.Port, r *portReport) {
	ctx, cancel := context.WithTimeout(ctx, portTime)
	defer cancel()
	switch p := p.(type) {
	case ddc.In:
		r.Up = upReadings(p.LookUp(ctx, ddc.UpOptions{}))
	case ddc.Out:
		seen := p.LookDown(ctx, ddc.DownOptions{Reads: 1})
		a.logAttempts(seen)
		r.Down = downReadings(seen)
	}
}

func (a *app) printPorts(report portsReport) {
	if len(report.Ports) == 0 {
		fmt.Fprintln(a.out, "This machine has no port that deadhop can use.")
		fmt.Fprintln(a.out, "It needs a video output with its DDC bus, an HDMI receiver, or both. To try the")
		fmt.Fprintln(a.out, "program without them, give a simulated bench with --bench.")
	}
	for _, p := range report.Ports {
		fmt.Fprintf(a.out, "%s: %s\n", p.ID, portSentence(p))
		about := p.Kind
		if p.Label != "" {
			about += ", " + p.Label
		}
		if p.Driver != "" {
			about += ", driver " + p.Driver
		}
		fmt.Fprintf(a.out, "    %s\n", about)
		if len(p.Cannot) > 0 {
			fmt.Fprintf(a.out, "    cannot measure here: %s\n", strings.Join(p.Cannot, ", "))
		}
		if p.Trouble != "" {
			fmt.Fprintf(a.out, "    trouble: %s\n", p.Trouble)
		}
	}
	if report.Trouble != "" {
		fmt.Fprintf(a.err, "deadhop: some ports could not be listed: %s\n", report.Trouble)
	}
}

// portSentence says what a port sees, most telling reading first.
func portSentence(p portReport) string {
	switch {
	case p.Up != nil:
		return strings.Join(upWords(p.Up), ", ")
	case p.Down != nil:
		return strings.Join(downWords(p.Down), ", ")
	}
	return "not read"
}

func portKindWord(k ddc.PortKind) string {
	switch k {
	case ddc.OutPort:
		return "video output"
	case ddc.InPort:
		return "video receiver"
	case ddc.BareBus:
		return "bare DDC bus"
	}
	return fmt.Sprintf("kind(%d)", k)
}

// quantitiesOf lists what a port of that kind might observe at best.
func quantitiesOf(k ddc.PortKind) []ddc.Quantity {
	if k == ddc.InPort {
		return []ddc.Quantity{ddc.Power5V, ddc.SignalLock, ddc.InTiming, ddc.Picture, ddc.Sound}
	}
	if k == ddc.BareBus {
		return []ddc.Quantity{ddc.Ack, ddc.RawEDID}
	}
	return []ddc.Quantity{ddc.Connector, ddc.HotPlug, ddc.RxSense, ddc.Ack, ddc.RawEDID, ddc.KernelEDID}
}

func quantityWord(q ddc.Quantity) string {
	switch q {
	case ddc.Connector:
		return "connector status"
	case ddc.HotPlug:
		return "hot-plug"
	case ddc.RxSense:
		return "termination"
	case ddc.Ack:
		return "DDC acknowledge"
	case ddc.RawEDID:
		return "raw EDID"
	case ddc.KernelEDID:
		return "kernel's EDID"
	case ddc.Power5V:
		return "+5 V"
	case ddc.SignalLock:
		return "lock"
	case ddc.InTiming:
		return "timing"
	case ddc.Picture:
		return "picture"
	case ddc.Sound:
		return "sound"
	}
	return fmt.Sprintf("quantity(%d)", q)
}

// logAttempts writes every transaction to the log, errno included.
func (a *app) logAttempts(d ddc.Downstream) {
	for _, t := range d.Log {
		ev := a.log.Info()
		if t.Err != nil {
			ev = a.log.Warn().AnErr("error", t.Err)
			var op *ddc.OpError
			if errors.As(t.Err, &op) {
				ev = ev.AnErr("errno", op.Err)
			}
		}
		ev.Str("port", d.Port).Dur("took", t.Took).Int("messages", len(t.Msgs)).Msg("DDC transaction")
	}
}
