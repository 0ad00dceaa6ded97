package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/user"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"deadhop/ddc"
)

// rulesFile is where the help has the rules go: after the system's own.
const rulesFile = "/etc/udev/rules.d/70-deadhop.rules"

type accessReport struct {
	Version int             `json:"version"`
	Ports   []portPermitted `json:"ports"`
	Rules   string          `json:"rules"`
	Trouble string          `json:"trouble,omitempty"`
}

type portPermitted struct {
	Port    string   `json:"port"`
	Devices []string `json:"devices"`
	// Trouble is what keeps the port from being used, "" where nothing does.
	Trouble string `json:"trouble,omitempty"`
}

func newAccess(a *app) *cobra.Command {
	var group string
	var rules bool
	cmd := &cobra.Command{
		Use:   "access",
		Short: "Say which permissions the bench lacks and how to get them",
		Long: `Tries every port as the user who runs it, says which ones may not be used and
why, and prints udev rules that open the buses of displays to a group, so that no
root is needed. A machine's own SMBus is never among them.

Nothing is changed: the rules are installed by whoever is root. The exit code is
3 when a port lacks a permission.`,
		Example: `  deadhop access
  deadhop access --rules --group video | sudo tee ` + rulesFile + `
  sudo udevadm control --reload && sudo udevadm trigger`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !groupName.MatchString(group) {
				return &usageError{cmd.CommandPath(), fmt.Errorf("--group %q is no group's name", group)}
			}
			return a.access(cmd.Context(), group, rules)
		},
	}
	f := cmd.Flags()
	f.StringVar(&group, "group", "video", "group that may use the bench")
	f.BoolVar(&rules, "rules", false, "print the udev rules alone, to go into a file")
	jsonFlag(a, f)
	return cmd
}

// groupName is what useradd lets through; anything else could break out of
// the quotes of a rule.
var groupName = regexp.MustCompile(`^[a-z_][a-z0-9_-]{0,31}$`)

func (a *app) access(ctx context.Context, group string, only bool) error {
	bench, simulated, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	if simulated != nil {
		return fmt.Errorf("a simulated bench has no permissions to ask for: %w", ddc.ErrUnsupported)
	}
	rules, err := ddc.UdevRules(os.DirFS("/sys"), group)
	if err != nil {
		return err
	}
	if only {
		fmt.Fprint(a.out, rules)
		return nil
	}
	ports, listErr := bench.Ports(ctx)
	r := accessReport{Version: 1, Ports: []portPermitted{}, Rules: rules}
	if listErr != nil {
		r.Trouble = listErr.Error()
	}
	codes := []exitCode{exitPass}
	lacks := false
	for _, p := range ports {
		i := p.Info()
		one := portPermitted{Port: i.ID, Devices: i.Devices}
		if i.Trouble != nil {
			one.Trouble = i.Trouble.Error()
			codes = append(codes, exitCannotTest)
			lacks = lacks || errors.Is(i.Trouble, ddc.ErrPermission)
		}
		r.Ports = append(r.Ports, one)
	}
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
		return finish(worst(codes...))
	}
	a.printAccess(&r, group, lacks)
	return finish(worst(codes...))
}

func (a *app) printAccess(r *accessReport, group string, lacks bool) {
	for _, p := range r.Ports {
		if p.Trouble == "" {
			fmt.Fprintf(a.out, "%-16s may be used\n", p.Port)
		} else {
			a.paragraph(fmt.Sprintf("%-16s ", p.Port), p.Trouble)
		}
	}
	if len(r.Ports) == 0 {
		fmt.Fprintln(a.out, "This machine has no port for a bench.")
	}
	if r.Trouble != "" {
		a.paragraph("Not listed  ", r.Trouble)
	}
	if lacks {
		who := "USER"
		if u, err := user.Current(); err == nil && u.Uid != "0" {
			who = u.Username
		}
		fmt.Fprintf(a.out, "\nTo work without root: put the rules below into %s, then as root\n  udevadm control --reload && udevadm trigger\n  usermod -aG %s %s     (and log in again)\n", rulesFile, group, who)
	}
	fmt.Fprintf(a.out, "\n%s", r.Rules)
	if !strings.Contains(r.Rules, "SUBSYSTEM") {
		fmt.Fprintln(a.out, "# No such bus is here now.")
	}
}
