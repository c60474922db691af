package lease

import (
	"context"
	"time"
)

// Look is how long [AtWork] looks at a lease at most: whoever is at work writes it again
// within that time.
const Look = RenewEvery + 2*time.Second

// AtWork returns the name of a process, none of ours, that renews the lease while this
// looks on, "" if there is none. A lease that is ours, or that there is none of, takes one
// look; one that may merely stand there since its holder ended takes [Look].
func AtWork(ctx context.Context, o *Object, ours func(holder string) bool) (holder string, err error) {
	return atWork(ctx, o, ours, time.Second)
}

func atWork(ctx context.Context, o *Object, ours func(string) bool, every time.Duration) (string, error) {
	first, err := readSoon(ctx, o)
	if err != nil || first.Tag == "" || ours(first.Holder) {
		return "", err
	}
	again := time.NewTicker(every)
	defer again.Stop()
	for range Look / time.Second {
		select {
		case <-ctx.Done():
			return "", ctx.Err()
		case <-again.C:
		}
		switch seen, err := readSoon(ctx, o); {
		case err != nil || seen.Tag == "" || ours(seen.Holder):
			return "", err
		case seen.Tag != first.Tag:
			return seen.Holder, nil
		}
	}
	return "", nil
}

// readSoon reads the lease, or gives up.
func readSoon(ctx context.Context, o *Object) (Seen, error) {
	ctx, cancel := context.WithTimeout(ctx, turnTimeout)
	defer cancel()
	return o.Read(ctx)
}
