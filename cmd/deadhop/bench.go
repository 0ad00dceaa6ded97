package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/goccy/go-yaml"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// openBench opens the bench that --bench describes, or this machine's own
// ports. The second result is the simulated bench where it is one, else nil:
// only that one has hands.
func (a *app) openBench(context.Context) (ddc.Bench, *sim.Bench, error) {
	var options ddc.BenchOptions
	if a.benchFile != "" {
		data, err := os.ReadFile(a.benchFile)
		if err != nil {
			return nil, nil, badInputf("cannot read the bench file: %w", err)
		}
		if isSimulation(data) {
			s, err := sim.Load(a.benchFile, data)
			if err != nil {
				return nil, nil, badInput(err)
			}
			return s, s, nil
		}
		if options, err = ddc.ParseBenchFile(a.benchFile, data); err != nil {
			return nil, nil, badInput(err)
		}
	}
	b, err := ddc.OpenBench(options)
	if err != nil {
		return nil, nil, badInput(err)
	}
	return b, nil, nil
}

// isSimulation tells a simulated bench from the description of a real one: it
// has equipment on it, and so stages. A file that cannot be read at all is
// left to the strict reader to complain about.
func isSimulation(data []byte) bool {
	var top map[string]any
	if err := yaml.Unmarshal(data, &top); err != nil {
		return true
	}
	_, has := top["stages"]
	return has
}

// findPort finds the port that a person named. Where only one port of the
// bench fits an empty name, it is that one.
func findPort(ctx context.Context, b ddc.Bench, id string, fits func(ddc.Port) bool) (ddc.Port, error) {
	ports, listErr := b.Ports(ctx)
	var fitting []string
	var found ddc.Port
	for _, p := range ports {
		if fits != nil && !fits(p) {
			continue
		}
		fitting = append(fitting, p.Info().ID)
		if p.Info().ID == id || id == "" {
			found = p
		}
	}
	switch {
	case id == "" && len(fitting) == 1, id != "" && found != nil:
		return found, nil
	case len(fitting) == 0:
		err := fmt.Errorf("this bench has no port that could do that: `deadhop ports` lists what it has")
		return nil, badInput(errors.Join(err, listErr))
	case id == "":
		return nil, badInputf("more than one port would do, so name one with --port: %s", strings.Join(fitting, ", "))
	}
	return nil, badInputf("there is no port %q here; the ports are %s", id, strings.Join(fitting, ", "))
}

// isPortName tells a port's name from a file's.
func isPortName(s string) bool {
	for _, prefix := range []string{"out:", "in:", "bus:"} {
		if strings.HasPrefix(s, prefix) {
			return true
		}
	}
	return false
}
