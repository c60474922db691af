package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/notify/lease"
)

// leases are those that this process asks for, by their address: shops that name the
// same one share it.
type leases struct {
	mu  sync.Mutex
	all map[string]*lease.Keeper
}

// of returns the keeper of a shop's lease, nil if its settings name none. A lease is
// renewed until ctx ends.
func (l *leases) of(ctx context.Context, c *config.Config, e env, log *slog.Logger) (*lease.Keeper, error) {
	if c.Lease.Object == "" {
		return nil, nil
	}
	keys := func() (id, secret string, err error) {
		text, err := os.ReadFile(c.Path(c.Lease.KeysFile))
		if err != nil {
			return "", "", fmt.Errorf("settings: lease.keys_file: %w", err)
		}
		lines := strings.Fields(string(text))
		if len(lines) != 2 {
			return "", "", fmt.Errorf("settings: lease.keys_file: %s: want the access key on its first line and its secret on the second", c.Path(c.Lease.KeysFile))
		}
		return lines[0], lines[1], nil
	}
	if _, _, err := keys(); err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	k := l.all[c.Lease.Object]
	if k == nil {
		host, err := os.Hostname()
		if err != nil {
			host = "unknown"
		}
		k = lease.NewKeeper(&lease.Object{URL: c.Lease.Object, Region: c.Lease.Region, Keys: keys}, host+" "+rand.Text(), e.now, log)
		if l.all == nil {
			l.all = make(map[string]*lease.Keeper)
		}
		l.all[c.Lease.Object] = k
		go k.Run(ctx)
	}
	return k, nil
}
