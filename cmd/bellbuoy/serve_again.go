package main

import (
	"context"
	"log/slog"
	"net/http"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// swapped answers with the handler that was put last; requests under way end with
// the one they began with.
type swapped struct{ at atomic.Pointer[http.Handler] }

func (s *swapped) put(h http.Handler) { s.at.Store(&h) }

func (s *swapped) ServeHTTP(w http.ResponseWriter, r *http.Request) { (*s.at.Load()).ServeHTTP(w, r) }

// rereader reads the settings of a running daemon again, on SIGHUP.
type rereader struct {
	a       *cli
	daemon  daemon
	h       *app.App
	site    *site.Site
	handler *swapped
	ticks   *ticker
	log     *slog.Logger
}

// start listens for the signal until ctx ends; the function returned stops
// listening.
func (r *rereader) start(ctx context.Context) (stop func()) {
	hangup := make(chan os.Signal, 1)
	signal.Notify(hangup, syscall.SIGHUP)
	go func() {
		for {
			select {
			case <-ctx.Done():
				return
			case <-hangup:
			}
			if err := r.read(ctx); err != nil {
				r.log.ErrorContext(ctx, "settings not taken; the old ones stay", "file", r.daemon.settings, "error", err)
			}
		}
	}()
	return func() { signal.Stop(hangup) }
}

// read takes over what the settings say now, all of it or nothing. What a running
// daemon cannot change is named in the log.
func (r *rereader) read(ctx context.Context) error {
	c, err := config.Load(r.daemon.settings)
	if err != nil {
		return err
	}
	h, err := r.h.With(ctx, c)
	if err != nil {
		return err
	}
	sender, err := h.NewSender()
	if err != nil {
		return err
	}
	site, err := r.site.With(h, r.a.clock(h))
	if err != nil {
		return err
	}
	old := r.h.Config
	if c.Path(c.Files.Database) != old.Path(old.Files.Database) {
		r.log.WarnContext(ctx, "this setting takes a restart; the daemon goes on with the old one", "setting", "files.database")
		c.Files.Database = old.Path(old.Files.Database)
	}
	if c.Serve.Listen != old.Serve.Listen {
		r.log.WarnContext(ctx, "this setting takes a restart; the daemon goes on with the old one", "setting", "serve.listen")
		c.Serve.Listen = old.Serve.Listen
	}
	r.handler.put(site.Handler())
	r.ticks.work(h, sender)
	r.h, r.site = h, site
	r.log.InfoContext(ctx, "settings read again", "file", r.daemon.settings)
	return nil
}
