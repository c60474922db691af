package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"runtime/debug"
	"sync"
	"time"

	"github.com/robfig/cron/v3"
	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/cmd/bellbuoy/internal/group"
	"bellbuoy/cmd/bellbuoy/internal/mailsink"
	"bellbuoy/cmd/bellbuoy/internal/web"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/send"
)

// stopGrace is how long requests and the tick under way, together, may take to
// finish once the daemon is told to stop: service managers kill after ten.
const stopGrace = 9 * time.Second

// usualAddress is where a daemon answers that nobody gave another address, as in
// the settings that init writes.
const usualAddress = "127.0.0.1:8410"

func serveCommand(a *cli) *cobra.Command {
	var listen, folder string
	one := a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
		d := daemon{listen: cmp.Or(listen, h.Config.Serve.Listen), settings: a.configPath}
		return a.serve(c.Context(), h, d)
	})
	c := &cobra.Command{
		Use:   "serve",
		Short: "Run the daemon: pages, feeds, planning, reminders",
		Example: `  bellbuoy serve
  bellbuoy serve --config /etc/bellbuoy/bellbuoy.toml --listen 127.0.0.1:9000
  bellbuoy serve --shops /srv/bellbuoy`,
		Long: `Runs the daemon until it is stopped (SIGTERM, or Ctrl-C). On SIGHUP,
or "bellbuoy reload", it reads the settings again, and those that pages keep in
settings.toml beside the database, and says so in its log; if they have a fault, it
says that and keeps the old ones. Another database or another address to answer on
takes a restart.

With --shops one daemon serves every shop of a folder. The host name of a request
says which shop is meant (shop.url), so each needs its own. A shop with a fault in
its settings is left out and named in the log; on SIGHUP it is tried again, and
folders that are new are opened. /healthz at 127.0.0.1 lists all of them. A file
group.toml in the folder says which shops belong to one owner.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case folder == "":
				return one(c, args)
			case c.Flags().Changed("config"):
				return usagef("--shops %s and --config %s: a folder of shops has settings of its own for each", folder, a.configPath)
			}
			return a.serveShops(c.Context(), folder, cmp.Or(listen, usualAddress))
		},
	}
	c.Flags().StringVar(&listen, "listen", "", "`address` to answer on, host:port, in place of the settings'")
	c.Flags().StringVar(&folder, "shops", "", "serve every shop of a `folder`: each has a folder of its own in it, with a bellbuoy.toml")
	return c
}

// daemon is how a daemon runs.
type daemon struct {
	listen string
	// settings are read again on a hangup; "" does not listen for one.
	settings string
	demo     bool
	caught   *mailsink.Store   // shows caught mail, demo only
	ready    func(addr string) // called once it answers
	// group is that of the shop among others, as [site.Options].Group; nil for one alone.
	group func() (*group.Group, string)
	pages *site.Pages // shared with them
}

// serve opens the door last and closes it first: listen, tick, and on the end
// of ctx stop answering, let the tick finish, and return to the caller who
// closes the store.
func (a *cli) serve(ctx context.Context, h *app.App, d daemon) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	last := graceAfter(ctx, stopGrace)
	level := new(slog.LevelVar)
	level.Set(h.Config.Serve.Level())
	log := slog.New(slog.NewTextHandler(a.err, &slog.HandlerOptions{Level: level}))
	again, err := a.stand(ctx, h, d, log, level)
	if err != nil {
		return err
	}
	ln, err := net.Listen("tcp", d.listen)
	if err != nil {
		return hinted{fmt.Errorf("listen on %q: %w", d.listen, err), "another program may have the port; choose one with --listen"}
	}
	srv := site.NewServer(again.handler, log)
	waitForTicks := again.ticks.start(ctx)
	if d.settings != "" {
		defer again.start(ctx)()
	}
	program := thisProgram()
	log.Info("bellbuoy", "version", program.Version, "revision", program.Revision, "go", program.Go)
	log.Info("answering", "address", "http://"+ln.Addr().String())
	if d.ready != nil {
		go d.ready(ln.Addr().String())
	}
	err = site.Serve(ctx, srv, func() error { return srv.Serve(ln) }, stopGrace)
	stop()
	waitForTicks(last)
	log.Info("stopped")
	return err
}

// stand makes a shop ready to answer and to work: its pages, its ticks, and what
// reads its settings again, on a hangup or when a page changed them.
func (a *cli) stand(ctx context.Context, h *app.App, d daemon, log *slog.Logger, level *slog.LevelVar) (*rereader, error) {
	h.Log, h.Progress = log, nil
	k, err := a.leases.of(ctx, h.Config, a.env, log)
	if err != nil {
		return nil, err
	}
	if k != nil {
		h.MaySend, h.Elsewhere = k.MaySend, k.Elsewhere
		if err := h.KeepSetting(ctx, settingHolder, []byte(k.Name())); err != nil {
			return nil, err
		}
	}
	sender, err := h.NewSender()
	if err != nil {
		return nil, err
	}
	program, pulse := thisProgram(), &site.Pulse{Wall: a.env.now}
	pulse.Begin(a.env.now())
	r := &rereader{a: a, daemon: d, h: h, handler: &swapped{}, ticks: newTicker(a, h, sender, log, pulse), log: log, level: level}
	r.site, err = web.New(site.Options{App: h, Now: a.clock(h), Log: log, Demo: d.demo, Caught: d.caught, Pulse: pulse, Version: program.Version, Revision: program.Revision,
		Adopt: r.adopt, Group: d.group, Pages: d.pages})
	if err != nil {
		return nil, err
	}
	r.handler.put(r.site.Handler())
	return r, nil
}

// graceAfter returns a channel that is closed some time after ctx has ended.
func graceAfter(ctx context.Context, grace time.Duration) <-chan struct{} {
	last := make(chan struct{})
	context.AfterFunc(ctx, func() { time.AfterFunc(grace, func() { close(last) }) })
	return last
}

// clock is the time that the pages see: the real one, or with --today that
// day's date with the real time of day.
func (a *cli) clock(h *app.App) func() time.Time {
	if a.todayFlag == "" {
		return func() time.Time { return a.env.now().In(h.Config.Zone()) }
	}
	begun := a.env.now()
	return func() time.Time {
		at, err := a.instant(h.Config)
		if err != nil {
			return a.env.now()
		}
		return at.Add(a.env.now().Sub(begun))
	}
}

// ticker has the daemon's work done again and again.
type ticker struct {
	a    *cli
	log  *slog.Logger
	turn sync.Mutex // held during a tick, but while it waits for another machine
	tick func(context.Context) error
	rest func(context.Context) error // after a long one
	send func(context.Context) error // nil while no mail server is named

	pulse *site.Pulse

	ticked, sent lasting
	mail         sync.Mutex // held while mail is being sent
	sending      sync.WaitGroup
}

// lasting is whether something failed the last time: one line in the log for a
// fault that lasts.
type lasting struct{ failed bool }

func (l *lasting) log(ctx context.Context, log *slog.Logger, what string, err error) {
	switch {
	case err == nil || errors.Is(err, context.Canceled):
		l.failed = false
	case !l.failed:
		l.failed = true
		log.ErrorContext(ctx, what+" failed; it is tried again", "error", err)
	}
}

func newTicker(a *cli, h *app.App, sender *send.Sender, log *slog.Logger, pulse *site.Pulse) *ticker {
	t := &ticker{a: a, log: log, pulse: pulse}
	beside := h.Away
	h.Away = func() func() { // settings are read again while a turn waits for the mailbox
		t.turn.Unlock()
		if beside == nil {
			return t.turn.Lock
		}
		back := beside()
		return func() {
			back()
			t.turn.Lock()
		}
	}
	t.work(h, sender)
	return t
}

// work has the ticks from now on be of this shop; it waits for the one under way, unless
// that one waits for another machine itself.
func (t *ticker) work(h *app.App, sender *send.Sender) {
	t.turn.Lock()
	defer t.turn.Unlock()
	now := t.a.clock(h)
	t.tick = func(ctx context.Context) error { return h.Tick(ctx, now, t.log, figures.Job(h)) }
	t.rest = h.Rest
	t.send = nil
	if sender != nil {
		t.send = func(ctx context.Context) error { return h.Send(ctx, now, sender, t.log) }
	}
}

// start ticks at once and then every half minute. Cron only ticks: what is due
// is decided in the database, so a double or a missed tick changes nothing. The
// ticks end with ctx; the function returned waits for the one under way, until
// last: a letter whose server never answers is taken up at the next start.
func (t *ticker) start(ctx context.Context) (wait func(last <-chan struct{})) {
	c := cron.New(cron.WithChain(cron.SkipIfStillRunning(cron.DiscardLogger), cron.Recover(cronLog{t.log})))
	once := func() {
		if t.once(ctx) {
			debug.FreeOSMemory() // what the night's work filled, an idle daemon need not keep for hours
		}
	}
	c.Schedule(cron.Every(30*time.Second), cron.FuncJob(once))
	first := make(chan struct{})
	go func() {
		defer close(first)
		once()
		c.Start()
	}()
	return func(last <-chan struct{}) {
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			<-first
			<-c.Stop().Done()
			t.sending.Wait()
		}()
		select {
		case <-ended:
		case <-last:
			t.log.Warn("a tick did not end in time; it is picked up at the next start")
		}
	}
}

// longTick is how long a tick works on the whole fleet and not on a few boats.
const longTick = 250 * time.Millisecond

// once does one turn and reports whether it was a long one, that may have filled much
// memory.
func (t *ticker) once(ctx context.Context) (long bool) {
	t.turn.Lock()
	defer t.turn.Unlock()
	begun := t.a.env.now()
	err := t.tick(ctx)
	if long = t.a.env.now().Sub(begun) > longTick; long {
		err = errors.Join(err, t.rest(ctx))
	}
	t.ticked.log(ctx, t.log, "tick", err)
	if err == nil {
		t.pulse.Turn(t.a.env.now())
	}
	// The next tick does not wait for a mail server that takes its time.
	if send := t.send; send != nil && t.mail.TryLock() {
		t.sending.Go(func() {
			defer t.mail.Unlock()
			t.sent.log(ctx, t.log, "sending", send(ctx))
		})
	}
	return long
}

// cronLog passes what the cron library says on to ours.
type cronLog struct{ log *slog.Logger }

func (l cronLog) Info(msg string, kv ...any) { l.log.Debug(msg, kv...) }
func (l cronLog) Error(err error, msg string, kv ...any) {
	l.log.Error(msg, append(kv, "error", err)...)
}
