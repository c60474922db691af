package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// Exit codes, documented in README.
const (
	exitOK       = 0
	exitFindings = 1 // findings or failure
	exitUsage    = 2
)

// env is the outside world as a command sees it.
type env struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time
}

// usageError is a call that cannot be understood.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// errFindings says that a command worked and found faults, which it has
// already printed.
var errFindings = errors.New("findings")

// hinted is an error with a line on what to do next.
type hinted struct {
	err  error
	hint string
}

func (e hinted) Error() string { return e.err.Error() }
func (e hinted) Unwrap() error { return e.err }

// run carries out one command line and returns the exit code. It is the only
// place that prints an error.
func run(ctx context.Context, e env, args []string) int {
	root := rootCommand(e)
	root.SetArgs(args)
	c, err := root.ExecuteContextC(ctx)
	var usage usageError
	var hint hinted
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, errFindings):
		return exitFindings
	case errors.As(err, &usage), isCobraUsage(err):
		fmt.Fprintf(e.err, "bellbuoy: %v\n", err)
		if near := nearest(c, err); near != "" {
			fmt.Fprintf(e.err, "hint: did you mean \"%s %s\"?\n", c.CommandPath(), near)
			return exitUsage
		}
		if c == root {
			fmt.Fprintf(e.err, "hint: \"bellbuoy help\" lists the commands, \"bellbuoy COMMAND --help\" explains one\n")
			return exitUsage
		}
		fmt.Fprintf(e.err, "usage: %s\n", c.UseLine())
		fmt.Fprintf(e.err, "hint: \"%s --help\" explains it\n", c.CommandPath())
		return exitUsage
	}
	fmt.Fprintf(e.err, "bellbuoy: %s\n", inWords(err))
	advice := store.Advice(err)
	if errors.As(err, &hint) {
		advice = hint.hint
	}
	if advice != "" {
		fmt.Fprintf(e.err, "hint: %s\n", advice)
	}
	return exitFindings
}

// inWords is an error's text without the mark of what the store refuses: the
// words around it say what is wrong.
func inWords(err error) string {
	if !errors.Is(err, store.ErrRefused) {
		return err.Error()
	}
	return strings.ReplaceAll(err.Error(), ": "+store.ErrRefused.Error(), "")
}

// unknownCommand is how the command library words a name that it does not know.
var unknownCommand = regexp.MustCompile(`^unknown command "([^"]*)"`)

// nearest is the command that an unknown one was meant to be, "" if none is near.
func nearest(c *cobra.Command, err error) string {
	m := unknownCommand.FindStringSubmatch(err.Error())
	if m == nil {
		return ""
	}
	c.SuggestionsMinimumDistance = 2
	for _, name := range c.SuggestionsFor(m[1]) {
		return name
	}
	return ""
}

// isCobraUsage recognizes what the command library says about unknown commands
// and wrong counts of arguments, for which it has no type.
func isCobraUsage(err error) bool {
	for _, s := range []string{"unknown command", "accepts ", "requires at least", "required flag"} {
		if strings.HasPrefix(err.Error(), s) {
			return true
		}
	}
	return false
}

// app is what the commands share: the outside world and the global flags.
type cli struct {
	env
	configPath string
	todayFlag  string
	asJSON     bool
	begins     bool         // the command may begin a shop: make its database
	format     words.Format // by the settings, once they were read
	leases     leases
}

// beginners are the commands with which a shop may begin: each puts something
// into it.
func beginners() []string { return []string{"import", "staff add", "climate load"} }

func rootCommand(e env) *cobra.Command {
	a := &cli{env: e}
	root := &cobra.Command{
		Use:   "bellbuoy",
		Short: "Plans the service of every boat sold, reminds its owner, and tells the shop what is due",
		Long: `Bellbuoy turns each sold boat's service history into a dated, explained
maintenance plan, fits it into the shop's weeks, publishes calendar feeds,
sends reminders, and shows what is due.

Every command takes --config (the shop's settings), --today (the day to plan
for) and --json (for machines). Exit codes: 0 fine, 1 findings or failure,
2 a command line that cannot be understood.`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
		// A day that is none is refused by every command, used or not.
		PersistentPreRunE: func(c *cobra.Command, _ []string) error {
			a.begins = slices.Contains(beginners(), strings.TrimPrefix(c.CommandPath(), "bellbuoy "))
			_, err := a.instantIn(time.UTC)
			return err
		},
	}
	root.SetIn(e.in)
	root.SetOut(e.out)
	root.SetErr(e.err)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	f := root.PersistentFlags()
	f.StringVar(&a.configPath, "config", "bellbuoy.toml", "the shop's settings `file`")
	f.StringVar(&a.todayFlag, "today", "", "plan as if it were this `day` (YYYY-MM-DD)")
	f.BoolVar(&a.asJSON, "json", false, "print JSON for machines")
	for _, add := range commands {
		root.AddCommand(add(a))
	}
	return root
}

// now is the present instant; with --today it is that day's noon by the shop's
// clock.
func (a *cli) instant(c *config.Config) (time.Time, error) { return a.instantIn(c.Zone()) }

func (a *cli) instantIn(zone *time.Location) (time.Time, error) {
	if a.todayFlag == "" {
		return a.env.now().In(zone), nil
	}
	d, err := civil.Parse(a.todayFlag)
	if err != nil {
		return time.Time{}, usagef("--today: %w", err)
	}
	return d.At(12, 0, zone), nil
}

// today is the present day in the shop's zone, or what --today says.
func (a *cli) today(c *config.Config) (civil.Day, error) {
	t, err := a.instant(c)
	return civil.FromTime(t), err
}

// config reads the settings.
func (a *cli) config() (*config.Config, error) {
	c, err := config.Load(a.configPath)
	if err == nil {
		a.format = c.Format()
	}
	var pages *config.PagesFault
	if errors.As(err, &pages) {
		err = hinted{err, fmt.Sprintf("mend that, or move %s aside: the shop then goes by %s and the usual values", pages.File, a.configPath)}
	}
	return c, err
}

// manualFirst closes what a command prints of work on boats.
const manualFirst = "The engine maker's manual, local codes and licensed technicians come first; days and amounts are estimates where the text says so."

// moment words an instant by the clock that it is in.
func (a *cli) moment(t time.Time) string {
	return a.format.Date(civil.FromTime(t)) + ", " + a.format.Clock(t.Hour()*60+t.Minute())
}

// openApp opens everything that a command on the shop's data needs. The caller
// closes it. A shop without a database is an empty shop only to those commands
// with which one begins; to any other the settings name the wrong file.
func (a *cli) openApp(ctx context.Context) (*app.App, error) {
	c, err := a.config()
	if err != nil {
		return nil, err
	}
	h, err := openDatabase(ctx, c, a.begins)
	if err != nil {
		return nil, err
	}
	h.Log, h.Progress = slog.New(slog.NewTextHandler(a.err, nil)), a.progress("boats planned")
	return h, nil
}

// openDatabase opens the shop of some settings. It begins one only where that may be,
// and never where a shop has lost its database.
func openDatabase(ctx context.Context, c *config.Config, begins bool) (*app.App, error) {
	path := c.Path(c.Files.Database)
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return app.Open(ctx, c)
	}
	left, backup, err := app.LeftBehind(c)
	switch {
	case err != nil:
		return nil, err
	case backup:
		return nil, hinted{fmt.Errorf("settings: files.database: %q: no such file, though a shop ran here: its newest backup is %q", path, left),
			fmt.Sprintf("put it back with \"bellbuoy restore %s\", or name the right file; move the backups away first where a new shop is to begin", left)}
	case left != "":
		return nil, hinted{fmt.Errorf("settings: files.database: %q: no such file, though a shop ran here and left %q", path, left),
			"put a backup or an export in its place with \"bellbuoy restore\", or name the right file; move that file away first where a new shop is to begin"}
	case !begins:
		return nil, fmt.Errorf("settings: files.database: %q: no such file; name the shop's own, or begin with \"bellbuoy init\", \"bellbuoy import\" or \"bellbuoy restore\"", path)
	}
	return app.Open(ctx, c)
}

// withApp wraps the work of a command on the shop's data: it opens the shop,
// reads the clock once, does the work and closes the shop again.
func (a *cli) withApp(work func(c *cobra.Command, h *app.App, now time.Time, args []string) error) func(*cobra.Command, []string) error {
	return func(c *cobra.Command, args []string) error {
		h, err := a.openApp(c.Context())
		if err != nil {
			return err
		}
		defer h.Close()
		now, err := a.instant(h.Config)
		if err != nil {
			return err
		}
		return work(c, h, now, args)
	}
}

// withChange is withApp for what changes the shop: it is refused while another machine
// runs it.
func (a *cli) withChange(work func(c *cobra.Command, h *app.App, now time.Time, args []string) error) func(*cobra.Command, []string) error {
	return a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
		if err := a.worksHere(c.Context(), h); err != nil {
			return err
		}
		return work(c, h, now, args)
	})
}

// withPlan is withApp for what only looks at the plan: where the stored
// one is of another day or of other settings, the work is done on a copy that
// is planned again.
func (a *cli) withPlan(work func(c *cobra.Command, h *app.App, now time.Time, args []string) error) func(*cobra.Command, []string) error {
	return a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
		return h.AsIf(c.Context(), now, civil.FromTime(now), a.progress("boats planned"), func(h *app.App) error {
			return work(c, h, now, args)
		})
	})
}

// done says that a command did what it was told: the words for people, the
// value for machines.
func (a *cli) done(v any, words string, args ...any) error {
	if a.asJSON {
		return a.printJSON(v)
	}
	a.printf(words+"\n", args...)
	return nil
}

func (a *cli) printf(format string, args ...any) { fmt.Fprintf(a.out, format, args...) }
