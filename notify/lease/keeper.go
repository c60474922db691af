package lease

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"
)

// turnTimeout is how long a turn may take: a slow answer must not keep the next
// renewal waiting until the lease is too old to send by.
const turnTimeout = 8 * time.Second

// Keeper holds the lease for one process, or waits for it.
type Keeper struct {
	object *Object
	now    func() time.Time
	log    *slog.Logger

	mu     sync.Mutex
	claim  Claim
	proven bool // the storage honors conditions

	count  int64
	failed bool // the last turn did; one line in the log for a fault that lasts
}

// NewKeeper returns a keeper that has not looked yet. me must be this process's
// alone, also after a restart.
func NewKeeper(o *Object, me string, now func() time.Time, log *slog.Logger) *Keeper {
	return &Keeper{object: o, now: now, log: log, claim: Claim{Me: me}}
}

// Name is what this process writes into the lease.
func (k *Keeper) Name() string { return k.claim.Me }

// MaySend reports whether an email may go out at this moment. Any goroutine may ask.
func (k *Keeper) MaySend() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.proven && k.claim.MaySend(k.now())
}

// Elsewhere reports whether another process runs the shop now. Any goroutine may ask.
func (k *Keeper) Elsewhere() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.claim.Elsewhere()
}

// Run takes turns until ctx ends. The lease is then left to run out.
func (k *Keeper) Run(ctx context.Context) {
	next := time.NewTicker(RenewEvery)
	defer next.Stop()
	for {
		k.turnLogged(ctx)
		select {
		case <-ctx.Done():
			return
		case <-next.C:
		}
	}
}

func (k *Keeper) turnLogged(ctx context.Context) {
	before := k.claim.Held()
	err := k.Turn(ctx)
	switch after := k.claim.Held(); {
	case after && !before:
		k.log.InfoContext(ctx, "this machine has the lease: it sends emails after a wait", "lease", k.object.URL, "wait", Wait)
	case before && !after:
		k.log.ErrorContext(ctx, "another machine has the lease: this one sends no email and takes no forms", "lease", k.object.URL, "holder", k.claim.seen.Holder)
	}
	if err != nil && !k.failed && ctx.Err() == nil {
		k.log.ErrorContext(ctx, "the lease could not be renewed; it is tried again, and without it no email is sent", "error", err)
	}
	k.failed = err != nil
}

// Turn renews the lease, takes it, or looks how it is.
func (k *Keeper) Turn(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, turnTimeout)
	defer cancel()
	if !k.claim.Held() {
		if err := k.look(ctx); err != nil {
			return err
		}
	}
	err := k.write(ctx)
	if errors.Is(err, ErrChanged) { // by another, or by a write of our own whose answer was lost
		if err = k.look(ctx); err == nil && k.claim.Held() {
			err = k.write(ctx)
		}
	}
	if err == nil && k.claim.Held() && !k.proven {
		err = k.prove(ctx)
	}
	return err
}

func (k *Keeper) look(ctx context.Context) error {
	seen, err := k.object.Read(ctx)
	if err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.claim.Saw(seen, k.now())
	return nil
}

func (k *Keeper) write(ctx context.Context) error {
	begun := k.now()
	over, want := k.claim.Over(begun)
	if !want {
		return nil
	}
	tag, err := k.object.Write(ctx, over, k.content(begun))
	if err != nil {
		return err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.claim.Wrote(tag, begun, k.now())
	return nil
}

func (k *Keeper) content(at time.Time) content {
	k.count++
	return content{Holder: k.claim.Me, Count: k.count, At: at.UTC()}
}

// prove asks for two writes that must not succeed: a storage that takes them knows no
// conditions, and there the lease would keep nobody from sending.
func (k *Keeper) prove(ctx context.Context) error {
	for _, over := range []string{"", `"00000000000000000000000000000000"`} {
		switch _, err := k.object.Write(ctx, over, k.content(k.now())); {
		case err == nil:
			return fmt.Errorf("lease %s: the storage does not honor If-Match and If-None-Match, so the lease is worth nothing there and no email is sent; choose another", k.object.URL)
		case !errors.Is(err, ErrChanged):
			return err
		}
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.proven = true
	return nil
}
