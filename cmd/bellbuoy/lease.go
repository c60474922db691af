package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
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
	object := leaseObject(c)
	if _, _, err := object.Keys(); err != nil {
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
		k = lease.NewKeeper(object, host+" "+rand.Text(), e.now, log)
		if l.all == nil {
			l.all = make(map[string]*lease.Keeper)
		}
		l.all[c.Lease.Object] = k
		go k.Run(ctx)
	}
	return k, nil
}

// leaseObject is where the settings say that the lease lies.
func leaseObject(c *config.Config) *lease.Object {
	return &lease.Object{URL: c.Lease.Object, Region: c.Lease.Region, Keys: func() (id, secret string, err error) {
		text, err := os.ReadFile(c.Path(c.Lease.KeysFile))
		if err != nil {
			return "", "", fmt.Errorf("settings: lease.keys_file: %w", err)
		}
		lines := strings.Fields(string(text))
		if len(lines) != 2 {
			return "", "", fmt.Errorf("settings: lease.keys_file: %s: want the access key on its first line and its secret on the second", c.Path(c.Lease.KeysFile))
		}
		return lines[0], lines[1], nil
	}}
}

// settingHolder names the setting that says by which name the daemon that works with this
// file asks for the lease.
const settingHolder = "lease-holder"

// worksHere refuses to change a shop that another machine runs: what changed here would be
// on file where nobody looks. A storage that cannot be asked keeps nobody from working.
func (a *cli) worksHere(ctx context.Context, h *app.App) error {
	if h.Config.Lease.Object == "" {
		return nil
	}
	looking := time.AfterFunc(2*time.Second, func() { fmt.Fprintln(a.err, "Looking whether another machine runs this shop, by its lease ...") })
	defer looking.Stop()
	holder, err := lease.AtWork(ctx, leaseObject(h.Config), func(holder string) bool {
		ours, err := h.DB.Setting(ctx, settingHolder)
		return err == nil && string(ours) == holder
	})
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		fmt.Fprintf(a.err, "warning: whether another machine runs this shop is not known, and this goes on: %v\n", err)
	case holder != "":
		machine, _, _ := strings.Cut(holder, " ")
		return hinted{fmt.Errorf("another machine runs this shop now: %q renews the lease %s; nothing was changed here", machine, h.Config.Lease.Object),
			"give the command there; before this machine works for the shop again, give it a copy of the one at work: \"bellbuoy restore --take-over\""}
	}
	return nil
}
