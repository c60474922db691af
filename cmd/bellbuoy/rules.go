package main

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

func rulesCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:   "rules",
		Short: "The catalog of rules: what falls due when, for which components, and why",
		Example: `  bellbuoy rules list
  bellbuoy rules example >rules.toml
  bellbuoy rules check rules.toml`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	var language string
	check := &cobra.Command{
		Use:   "check [FILE]",
		Short: "Report mistakes in a rule file, or in the catalog in force",
		Long: `Reports unknown keys, cycles of rules that include each other, rules that can
never apply, rules that overlap, and figures without a source, each with file
and line. FILE is checked as an addition to the built-in catalog.

It also counts the texts for customers that another language lacks: they read
those in English. With --language they are listed.`,
		Example: `  bellbuoy rules check rules.toml
  bellbuoy rules check --language fr`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error { return a.rulesCheck(args, language) },
	}
	check.Flags().StringVar(&language, "language", "", "list what this `language` lacks: "+strings.Join(texts.Languages()[1:], " or "))
	c.AddCommand(
		&cobra.Command{
			Use:   "list",
			Short: "List the rules in force, with interval and source",
			Args:  cobra.NoArgs,
			RunE:  func(*cobra.Command, []string) error { return a.rulesList() },
		},
		check,
		&cobra.Command{
			Use:   "example",
			Short: "Print a commented rule file to start your own from",
			Long: `Prints a file of a shop's own rules, with what every key means: rules of its own,
changes of built-in ones, what an engine family's manual says, parts' costs. Take out
what you do not need, and name the file in the settings ([files] rules).`,
			Example: `  bellbuoy rules example >rules.toml`,
			Args:    cobra.NoArgs,
			RunE: func(*cobra.Command, []string) error {
				_, err := a.out.Write(rules.ShopExample())
				return err
			},
		},
	)
	return c
}

// catalogue is the one in force: the built-in rules and the shop's own, if
// there are settings to name them.
func (a *cli) catalogue() (*rules.Catalogue, error) {
	if _, err := os.Stat(a.configPath); err != nil && a.configPath == "bellbuoy.toml" {
		return rules.Default() // no shop here: the built-in catalogue
	}
	c, err := a.config()
	if err != nil {
		return nil, err
	}
	return app.Catalogue(c)
}

func (a *cli) rulesList() error {
	cat, err := a.catalogue()
	if err != nil {
		return err
	}
	cat = schedule.Measured(cat, a.format)
	if a.asJSON {
		return a.printJSON(ruleRows(cat))
	}
	w := tabwriter.NewWriter(a.out, 0, 4, 2, ' ', 0)
	fmt.Fprintln(w, "rule\tservice\tapplies to\twhen\tlabor\tprice\tsource")
	for _, r := range ruleRows(cat) {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%d min\t%s\t%s\n", r.Rule, r.Service, r.AppliesTo, r.When, r.LabourMinutes, r.Price, strings.Join(r.Sources, "; "))
	}
	return w.Flush()
}

// ruleRow is one rule as "rules list --json" prints it. Prices are decimal in
// the shop's currency.
type ruleRow struct {
	Rule          string   `json:"rule"`
	Service       string   `json:"service"`
	Title         string   `json:"title"`
	AppliesTo     string   `json:"applies_to"`
	When          string   `json:"when"`
	EarlyDays     int      `json:"early_days"`
	GraceDays     int      `json:"grace_days"`
	LabourMinutes int      `json:"labor_minutes"`
	Price         string   `json:"price"`
	Covers        []string `json:"covers,omitempty"`
	Consequence   string   `json:"consequence"`
	Cautions      []string `json:"cautions,omitempty"`
	Sources       []string `json:"sources"`
}

func ruleRows(cat *rules.Catalogue) []ruleRow {
	var rows []ruleRow
	for i := range cat.Rules {
		r := &cat.Rules[i]
		row := ruleRow{
			Rule: r.Code, Service: r.Service, Title: r.Title, AppliesTo: r.Component, When: ruleWhen(r),
			EarlyDays: r.EarlyDays, GraceDays: r.GraceDays, LabourMinutes: r.Labour, Price: r.Price.String(),
			Covers: r.Covers, Consequence: r.Consequence, Cautions: r.Cautions,
		}
		for _, c := range r.Where {
			row.AppliesTo += " " + c.Key + "=" + strings.Join(c.Any, "|")
		}
		for _, s := range r.Sources {
			row.Sources = append(row.Sources, s.Kind+": "+s.Text)
		}
		rows = append(rows, row)
	}
	return rows
}

// ruleWhen words when a rule falls due.
func ruleWhen(r *rules.Rule) string {
	span := func(iv rules.Interval) string {
		var parts []string
		if iv.Hours > 0 {
			parts = append(parts, iv.Hours.String()+" h")
		}
		if iv.Months > 0 {
			parts = append(parts, fmt.Sprintf("%d months", iv.Months))
		}
		return strings.Join(parts, " or ")
	}
	after := strings.Join(r.After, ", ")
	used := ""
	if r.WithLayUp {
		used = ", and with a winterization once used"
	}
	switch {
	case r.IfMissed != "":
		return "each " + seasonWord(r.Season) + " after a missed " + seasonWord(r.IfMissed)
	case r.StoredDays > 0:
		return fmt.Sprintf("every %d days in storage", r.StoredDays)
	case r.Season != "":
		return "each " + seasonWord(r.Season)
	case r.Expiry != nil && r.Expiry.From == rules.FromWarranty:
		return "before the warranty ends"
	case r.Expiry != nil:
		return "by its last day"
	case r.Once:
		return "once, after " + span(r.First)
	case after != "" && r.Every.IsZero():
		return "after " + after
	case after != "" && !r.First.IsZero():
		return "every " + span(r.Every) + ", first after " + span(r.First) + ", and after " + after
	case after != "":
		return "every " + span(r.Every) + ", and after " + after
	case !r.First.IsZero():
		return "every " + span(r.Every) + ", first after " + span(r.First) + used
	}
	return "every " + span(r.Every) + used
}

func (a *cli) rulesCheck(args []string, language string) error {
	if language != "" && !slices.Contains(texts.Languages()[1:], language) {
		return usagef("--language %q: want %s", language, strings.Join(texts.Languages()[1:], " or "))
	}
	cat, err := a.checkedCatalogue(args)
	if err != nil {
		return err
	}
	findings := cat.Check()
	if language != "" {
		lacking, _ := cat.Lacking(language)
		findings = append(findings, lacking...)
	}
	if a.asJSON {
		type row struct {
			File     string `json:"file"`
			Line     int    `json:"line"`
			Rule     string `json:"rule"`
			Severity string `json:"severity"`
			Message  string `json:"message"`
		}
		rows := []row{}
		for _, f := range findings {
			rows = append(rows, row(f))
		}
		if err := a.printJSON(rows); err != nil {
			return err
		}
	} else {
		for _, f := range findings {
			a.printf("%s\n", f)
		}
		a.printf("%s, %s\n", words.Count(len(cat.Rules), "rule"), words.Count(len(findings), "finding"))
		for _, l := range texts.Languages()[1:] {
			lacking, all := cat.Lacking(l)
			a.printf("%s: %d of %d texts for customers are missing\n", l, len(lacking), all)
		}
	}
	if len(findings) > 0 {
		return errFindings
	}
	return nil
}

func (a *cli) checkedCatalogue(args []string) (*rules.Catalogue, error) {
	if len(args) == 0 {
		return a.catalogue()
	}
	base, err := rules.Default()
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(args[0])
	if err != nil {
		return nil, fmt.Errorf("rule file: %w", err)
	}
	own, err := rules.Parse(args[0], data)
	if err != nil {
		return nil, err
	}
	return base.Extend(own), nil
}

// seasonWord is what people call a season visit.
func seasonWord(kind string) string { return strings.ToLower(schedule.VisitTitle(kind)) }
