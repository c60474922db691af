package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/cmd/bellbuoy/internal/mailsink"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
)

func demoCommand(a *cli) *cobra.Command {
	var listen string
	var boats, years int
	var seed uint64
	var keep string
	var freeze bool
	c := &cobra.Command{
		Use:   "demo",
		Short: "Run the whole daemon on an invented shop of 400 boats; needs nothing",
		Long: `Makes an invented shop in a temporary folder: 400 boats on a lake that freezes,
six years of history, seven technicians. Runs the whole daemon on it, shows
the emails on a local page instead of sending them, and prints where to look.
With --freeze a hard freeze is forecast for Saturday's night, and it is a
Wednesday in early October unless --today says otherwise. The forecast is
invented too: no weather service is asked. Ctrl-C ends it and removes the folder.

It plays a day two weeks before the winterization deadline of the nearest
autumn, whatever day it is; --today plays another one.`,
		Example: `  bellbuoy demo
  bellbuoy demo --today 2027-04-20      spring, before the launch
  bellbuoy demo --keep shop             leaves the shop in the folder "shop"`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if freeze && a.todayFlag == "" {
				a.todayFlag = demo.FreezeDay(civil.FromTime(a.env.now())).String()
			}
			if a.todayFlag == "" {
				a.todayFlag = demoDay(civil.FromTime(a.env.now())).String()
			}
			dir := keep
			if dir != "" {
				if err := os.MkdirAll(dir, 0o755); err != nil {
					return fmt.Errorf("demo: %w", err)
				}
			}
			if dir == "" {
				tmp, err := os.MkdirTemp("", "bellbuoy-demo-")
				if err != nil {
					return fmt.Errorf("demo: %w", err)
				}
				defer os.RemoveAll(tmp)
				dir = tmp
			}
			return a.demo(c.Context(), dir, demoShop{listen, boats, years, seed, freeze})
		},
	}
	f := c.Flags()
	f.StringVar(&listen, "listen", usualAddress, "`address` to answer on, host:port")
	f.IntVar(&boats, "boats", 400, "how many boats")
	f.IntVar(&years, "years", 6, "years of history")
	f.Uint64Var(&seed, "seed", 1, "another number makes another shop")
	f.BoolVar(&freeze, "freeze", false, "let a freeze be forecast")
	f.StringVar(&keep, "keep", "", "use this `folder`, made if need be, and leave it there")
	return c
}

type demoShop struct {
	listen       string
	boats, years int
	seed         uint64
	freeze       bool
}

func (a *cli) demo(ctx context.Context, dir string, d demoShop) error {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return fmt.Errorf("demo: mail server: %w", err)
	}
	box := mailsink.New(500)
	caught := mailsink.Serve(ln, box)
	defer caught.Close()

	if err := os.WriteFile(filepath.Join(dir, "rules.toml"), demo.Rules, 0o600); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	path := filepath.Join(dir, "bellbuoy.toml")
	if err := os.WriteFile(path, []byte(demoFixed(d.listen, ln.Addr().String(), d.freeze)), 0o600); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	cfg, err := config.Load(path)
	if err != nil {
		return err
	}
	// What its pages change is in the file that they write; one that is kept stays.
	if cfg.Pages() == nil {
		if err := os.WriteFile(cfg.PagesFile(), []byte(demoPages(d.freeze)), 0o600); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
		if cfg, err = config.Load(path); err != nil {
			return err
		}
	}
	h, err := app.Open(ctx, cfg)
	if err != nil {
		return err
	}
	defer h.Close()
	if d.freeze {
		if err := a.demoForecast(h); err != nil {
			return err
		}
	}
	if err := a.fillDemo(ctx, h, filepath.Join(dir, "files"), d); err != nil {
		return err
	}
	return a.serve(ctx, h, daemon{
		listen: d.listen, demo: true, caught: box,
		ready: func(addr string) { a.printDemo(ctx, h, "http://"+addr, dir, d) },
	})
}

// demoForecast writes the forecast of the demo's freeze beside its settings.
func (a *cli) demoForecast(h *app.App) error {
	now, err := a.instant(h.Config)
	if err != nil {
		return err
	}
	body, err := demo.Forecast(now)
	if err == nil {
		err = os.WriteFile(h.Config.Path(demo.ForecastFile), body, 0o600)
	}
	if err != nil {
		return fmt.Errorf("demo: the forecast: %w", err)
	}
	return nil
}

// fillDemo writes the invented shop's five files and takes them in the way a
// shop would, then switches sending on: the mail goes no farther than the
// local page.
func (a *cli) fillDemo(ctx context.Context, h *app.App, files string, d demoShop) error {
	now, err := a.instant(h.Config)
	if err != nil {
		return err
	}
	today := civil.FromTime(now)
	if st, err := outbox.Sending(ctx, h.DB); err != nil || st.On {
		return err // a kept folder that is filled already
	}
	a.printf("Inventing %d boats and %d years of work ...\n", d.boats, d.years)
	if err := os.MkdirAll(files, 0o755); err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	rng := rand.New(rand.NewPCG(d.seed, 0))
	if err := demo.WriteParts(files, demo.Parts(rng, today, d.boats, d.years)); err != nil {
		return err
	}
	opened, closeAll, err := openImport([]string{files})
	if err != nil {
		return err
	}
	defer closeAll()
	h.Progress = a.progress("boats planned")
	a.printf("Planning ...\n")
	report, did, err := h.Intake(ctx, now, opened, app.IntakeBy("demo"))
	if err != nil {
		return errors.Join(err, fmt.Errorf("%v", report.Faults))
	}
	a.printPlanned(&did)
	if err := writeDemo(ctx, h, now, today, d.seed); err != nil {
		return err
	}
	if err := busyDemo(ctx, h, now); err != nil {
		return err
	}
	return h.SwitchSending(ctx, now, "demo", true)
}

func (a *cli) printDemo(ctx context.Context, h *app.App, base, dir string, d demoShop) {
	var b strings.Builder
	fmt.Fprintf(&b, "\nThe demo shop is open. Everything in it is invented; it plays %s (--today plays another day):\n", a.todayFlag)
	fmt.Fprintf(&b, "  this week's due list   %s/\n", base)
	if d.freeze {
		fmt.Fprintf(&b, "  the freeze to come     %s/freeze\n", base)
	}
	fmt.Fprintf(&b, "  the owner's figures    %s/owner\n", base)
	fmt.Fprintf(&b, "  emails it sends        %s/outbox\n", base)
	if url, err := h.FeedURL(ctx, "desk", ""); err == nil {
		fmt.Fprintf(&b, "  the desk's calendar    %s\n", url)
	}
	fmt.Fprintf(&b, "  settings and files     %s\n", dir)
	fmt.Fprintf(&b, "Ctrl-C ends it.\n")
	a.printf("%s", b.String())
}

// demoFixed are those that no page changes, and the shop's name.
func demoFixed(listen, mail string, freeze bool) string {
	var b strings.Builder
	fmt.Fprintf(&b, `[shop]
name = "Tamarwick Landing Boat Works"
address = "4 Slipway Lane, Tamarwick Landing"
phone = "555-0100"
email = "service@tamarwick.example"
url = "http://%s"
time_zone = "America/New_York"
currency = "$"

[files]
database = "bellbuoy.db"
rules = "rules.toml"

[mail]
from = "Tamarwick Landing Boat Works <service@tamarwick.example>"
server = "%s"
security = "none"

[serve]
listen = "%s"
`, listen, mail, listen)
	if freeze {
		for _, p := range demo.Places() {
			fmt.Fprintf(&b, "\n[[place]]\nname = %q\nforecast = %q\n", p.Name, demo.ForecastFile)
		}
	}
	return b.String()
}

// demoPages are those that pages change.
func demoPages(freeze bool) string {
	var b strings.Builder
	fmt.Fprintf(&b, `
[weeks]
allowance = 0.75
holiday_calendar = "us"

[reminders]
comparison_percent = %d
`, demo.HeldPercent)
	for _, name := range []string{"Inge", "Tomasz", "Ruth", "Odile", "Bram", "Noor", "Sipho"} {
		fmt.Fprintf(&b, "\n[[weeks.technician]]\nname = %q\nhours = [8, 8, 8, 8, 8, 0, 0]\n", name)
	}
	if freeze {
		b.WriteString("\n[freeze]\nemails = true\n")
	}
	for _, p := range demo.Places() {
		fmt.Fprintf(&b, "\n[[place]]\nname = %q\nlaunch = %q\nwinterize_by = %q\n", p.Name, p.Launch, p.LayUp)
	}
	return b.String()
}
