package main

import (
	"fmt"
	"regexp"

	"github.com/spf13/cobra"

	"deadhop/edid"
)

// figure is where a sentence has a number of the case.
var figure = regexp.MustCompile(`%[0-9]*[dXxs]`)

type issueEntry struct {
	Code     string        `json:"code"`
	Severity edid.Severity `json:"severity"`
	Standard string        `json:"standard"`
	Sentence string        `json:"sentence"`
}

func newIssues(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "issues",
		Short: "List everything that decode can find wrong with an EDID",
		Long: `Lists the catalogue of issues: code, severity, the clause of the standard that
it rests on, and what it means. Codes stay the same from version to version, so
that scripts may rely on them.`,
		Example: "  deadhop issues\n  deadhop issues --json",
		Args:    exactly(),
		RunE: func(*cobra.Command, []string) error {
			list := []issueEntry{}
			for _, e := range edid.Catalogue() {
				list = append(list, issueEntry{e.Code.String(), e.Severity, e.Spec, figure.ReplaceAllString(e.Sentence, "N")})
			}
			if a.json {
				return a.printJSON(struct {
					Version int          `json:"version"`
					Issues  []issueEntry `json:"issues"`
				}{1, list})
			}
			for s := edid.BreaksPicture; s <= edid.Note; s++ {
				fmt.Fprintf(a.out, "%s\n", s)
				for _, e := range list {
					if e.Severity == s {
						a.paragraph(fmt.Sprintf("  %-26s", e.Code), e.Sentence+" ("+e.Standard+")")
					}
				}
			}
			return nil
		},
	}
	jsonFlag(a, cmd.Flags())
	return cmd
}
