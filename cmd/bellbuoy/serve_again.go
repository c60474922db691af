package main

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"os/signal"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// swapped answers with the handler that was put last; requests under way end with
// the one they began with.
type swapped struct{ at atomic.Pointer[http.Handler] }

func (s *swapped) put(h http.Handler) { s.at.Store(&h) }

func (s *swapped) ServeHTTP(w http.ResponseWriter, r *http.Request) { (*s.at.Load()).ServeHTTP(w, r) }

// rereader reads the settings of a running daemon again, on SIGHUP or when a page
// changed them.
type rereader struct {
	a       *cli
	daemon  daemon
	handler *swapped
	ticks   *ticker
	log     *slog.Logger
	level   *slog.LevelVar

	mu   sync.Mutex // guards what follows
	h    *app.App
	site *site.Site
}

// shop is the shop by the settings of the moment.
func (r *rereader) shop() *app.App {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.h
}

// reloadFile is the file beside the shop's by which [reloadCommand] asks a running
// daemon, on systems without signals too; a name for this asking stands in it. Looking
// whether there is one costs next to nothing, reading the shop's file for it was most of what
// an idle daemon did.
func reloadFile(c *config.Config) string { return c.Path(c.Files.Database) + ".reload" }

// reloadAnswered is the setting in the shop's file by which the daemon answers: the
// same name, and on the next line what was wrong.
const reloadAnswered = "reload-answered"

// askedEvery is how often the daemon looks whether somebody asked.
const askedEvery = 5 * time.Second

// start listens for the signal, and looks whether somebody asked, until ctx ends; the
// function returned stops listening.
func (r *rereader) start(ctx context.Context) (stop func()) {
	hangup := make(chan os.Signal, 1)
	signal.Notify(hangup, syscall.SIGHUP)
	asked := time.NewTicker(askedEvery)
	go func() {
		for {
			select {
			case <-ctx.Done():
				return
			case <-hangup:
				r.readLogged(ctx)
			case <-asked.C:
				if err := r.answer(ctx); err != nil && ctx.Err() == nil {
					r.log.ErrorContext(ctx, "look whether the settings are to be read again", "error", err)
				}
			}
		}
	}()
	return func() {
		asked.Stop()
		signal.Stop(hangup)
	}
}

func (r *rereader) readLogged(ctx context.Context) error {
	err := r.read(ctx)
	if err != nil {
		r.log.ErrorContext(ctx, "settings not taken; the old ones stay", "file", r.daemon.settings, "error", err)
	}
	return err
}

// answer reads the settings again if somebody asked for it, and says in the shop's
// file what came of it.
func (r *rereader) answer(ctx context.Context) error {
	h := r.shop()
	file := reloadFile(h.Config)
	asking, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(asking) == 0 { // nobody asks, or is about to
		return nil
	}
	// Before the settings are read: who asks meanwhile has changed them since.
	if err := errors.Join(err, os.Remove(file)); err != nil {
		return err
	}
	outcome := ""
	if err := r.readLogged(ctx); err != nil {
		outcome = err.Error()
	}
	return h.KeepSetting(ctx, reloadAnswered, []byte(string(asking)+"\n"+outcome))
}

// read takes over what the settings say now, all of it or nothing.
func (r *rereader) read(ctx context.Context) error {
	if err := r.shop().Reread(ctx, r.adopt); err != nil {
		return err
	}
	r.log.InfoContext(ctx, "settings read again", "file", r.daemon.settings)
	return nil
}

// adopt is an [app.Adopt]. What a running daemon cannot change is named in the log.
func (r *rereader) adopt(ctx context.Context, h *app.App) (take func(), err error) {
	r.mu.Lock()
	old, before := r.h.Config, r.site
	r.mu.Unlock()
	if h.Config.Lease != old.Lease {
		r.log.WarnContext(ctx, "this setting takes a restart; the daemon goes on with the old one", "setting", "lease")
		h.Config.Lease = old.Lease
	}
	sender, err := h.NewSender()
	if err != nil {
		return nil, err
	}
	site, err := before.With(h, r.a.clock(h))
	if err != nil {
		return nil, err
	}
	return func() {
		c := h.Config
		if c.Path(c.Files.Database) != old.Path(old.Files.Database) {
			r.log.WarnContext(ctx, "this setting takes a restart; the daemon goes on with the old one", "setting", "files.database")
			c.Files.Database = old.Path(old.Files.Database)
		}
		if c.Serve.Listen != old.Serve.Listen {
			r.log.WarnContext(ctx, "this setting takes a restart; the daemon goes on with the old one", "setting", "serve.listen")
			c.Serve.Listen = old.Serve.Listen
		}
		r.level.Set(c.Serve.Level())
		r.handler.put(site.Handler())
		r.ticks.work(h, sender)
		r.mu.Lock()
		defer r.mu.Unlock()
		r.h, r.site = h, site
	}, nil
}
