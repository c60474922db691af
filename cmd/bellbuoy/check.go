package main

import (
	"encoding/json"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

func checkCommand(a *cli) *cobra.Command {
	var settings bool
	c := &cobra.Command{
		Use:   "check",
		Short: "Check the shop: database, places, settings, plan, emails and backups",
		Long: `Checks the database, the settings, the rules, the plan, the emails and the backups,
and lists what is wrong. Exit code 1 if there are findings. With --settings it lists
every setting instead, with its value and the file and line that it comes from: the
file that --config names wins over settings.toml beside the database, which the pages
write; what neither has is as usual.`,
		Example: `  bellbuoy check
  bellbuoy check --settings
  bellbuoy check --json`,
		Args: cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			if settings {
				return a.printSettings(h.Config)
			}
			today := civil.FromTime(now)
			findings, err := h.Check(c.Context(), today)
			if err != nil {
				return err
			}
			if a.asJSON {
				if err := a.printJSON(append([]string{}, findings...)); err != nil {
					return err
				}
			} else {
				for _, f := range findings {
					a.printf("%s\n", f)
				}
				if err := a.printPages(h.Config); err != nil {
					return err
				}
				v := thisProgram()
				a.printf("%s, by bellbuoy %s\n", words.Count(len(findings), "finding"), strings.TrimSpace(v.Version+" "+v.Revision))
			}
			if len(findings) > 0 {
				return errFindings
			}
			return nil
		}),
	}
	c.Flags().BoolVar(&settings, "settings", false, "list every setting with the file that it comes from")
	return c
}

// settingJSON is a setting, and where it was written.
type settingJSON struct {
	Setting string `json:"setting"` // "reminders.gap_days", "place[Our lake].launch"
	Value   any    `json:"value"`
	File    string `json:"file"` // "" for the usual value
	Line    int    `json:"line"` // 0 for the usual value
}

// printSettings lists what holds, and where each comes from.
func (a *cli) printSettings(c *config.Config) error {
	w, err := c.Written()
	if err != nil {
		return err
	}
	list := []settingJSON{}
	for _, addr := range slices.Sorted(maps.Keys(w.Values)) {
		o := w.Origins[addr]
		list = append(list, settingJSON{addr, w.Values[addr], o.File, o.Line})
	}
	if a.asJSON {
		return a.printJSON(list)
	}
	for _, s := range list {
		value, err := json.Marshal(s.Value)
		if err != nil {
			return err
		}
		from := "usual"
		if s.File != "" {
			from = w.Origins[s.Setting].String()
		}
		a.printf("%-38s %s  (%s)\n", s.Setting, value, from)
	}
	return a.printPages(c)
}

// printPages says what of the two files holds, if pages have written theirs.
func (a *cli) printPages(c *config.Config) error {
	if c.Pages() == nil {
		return nil
	}
	w, err := c.Written()
	if err != nil {
		return err
	}
	over, err := c.Overruled()
	for _, line := range over {
		a.printf("%s\n", line)
	}
	from := make(map[string]int)
	for _, o := range w.Origins {
		from[o.File]++
	}
	main, pages := filepath.Base(c.Name()), filepath.Base(c.PagesFile())
	a.printf("Settings: %d from %s, %d from %s, the others as usual.\n", from[main], main, from[pages], pages)
	return err
}
