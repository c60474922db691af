package main

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// TestAHungMailServerKeepsNoTickWaiting: while one message takes minutes, the shop
// goes on being planned and backed up, and nothing is sent beside it.
func TestAHungMailServerKeepsNoTickWaiting(t *testing.T) {
	var log strings.Builder
	var ticks, sends atomic.Int32
	hangs := make(chan struct{})
	k := &ticker{a: &cli{env: env{now: time.Now}}, log: slog.New(slog.NewTextHandler(&log, nil)), pulse: new(site.Pulse)}
	k.tick = func(context.Context) error { ticks.Add(1); return nil }
	k.send = func(context.Context) error { sends.Add(1); <-hangs; return errors.New("the server hung up") }
	for range 3 {
		k.once(t.Context())
	}
	if ticks.Load() != 3 {
		t.Errorf("%d ticks of three while a message was under way", ticks.Load())
	}
	close(hangs)
	k.sending.Wait()
	if sends.Load() != 1 {
		t.Errorf("%d turns of sending at a time", sends.Load())
	}
	k.once(t.Context())
	k.sending.Wait()
	if sends.Load() != 2 || strings.Count(log.String(), "sending failed") != 1 {
		t.Errorf("%d turns of sending; the log says\n%s", sends.Load(), log.String())
	}
}
