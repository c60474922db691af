package send

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"bellbuoy/schedule"
)

// usualLanes is how many connections a mail server on this machine gets. Each
// letter waits twice for the disk; while one does others go on, and those that
// wait at the same moment share one sync. A server elsewhere gets a single
// connection: there the network takes most of the time, a shop sends a few
// letters an hour, and mail hosts count connections and think ill of many.
const usualLanes = 16

// lettersALane is how many letters must still be allowed for each lane that is
// open before another opens: every lane is one more letter that a crash can
// leave in doubt, and a minute's ration needs no haste.
const lettersALane = 32

// drain is what the lanes of one Drain share. A lane is one connection that
// takes one letter after the other.
type drain struct {
	*Sender
	now    func() time.Time
	cancel context.CancelCauseFunc
	wg     sync.WaitGroup

	mu      sync.Mutex
	left    int // letters that may still be begun
	started int // lanes
	gaveUp  int // lanes that got no connection
	braked  bool
	res     Result
	err     error
}

// errStopped is why letters that have not come to their dot are put back.
var errStopped = errors.New("sending has stopped")

// noLease is why nothing is sent while [Config.MaySend] says no.
const noLease = "this machine does not have the lease"

// start begins one more lane if there may be one and letters enough are left for
// it. Only a lane that has a connection starts another, after each letter: a
// server that is down or refuses us is not asked many times.
func (d *drain) start(ctx context.Context) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.left < d.started*lettersALane || d.left == 0 || d.started == d.cfg.Lanes {
		return
	}
	d.started++
	d.wg.Go(func() { d.lane(ctx) })
}

// lane sends letters until there is none or a stop. While the outcome of one is
// recorded the next is claimed, in one sync; it is begun after both.
func (d *drain) lane(ctx context.Context) {
	var l link
	defer l.quit()
	var recorded sync.WaitGroup
	defer recorded.Wait()
	for d.take(ctx) {
		if !d.cfg.MaySend() {
			d.stop(noLease)
			return
		}
		letter, err := d.box.Claim(ctx, d.now(), d.cfg.BeforeDot+d.cfg.AfterDot+5*time.Minute)
		recorded.Wait()
		if errors.Is(err, schedule.ErrNone) || errors.Is(err, context.Canceled) && context.Cause(ctx) == errStopped {
			return
		}
		if err != nil {
			d.fail(fmt.Errorf("claim a letter: %w", err))
			return
		}
		v := d.attempt(ctx, &l, &letter, d.now)
		switch {
		case errors.Is(v.err, schedule.ErrLostLease):
			continue // it is another's now, or nobody's; the dot was not sent
		case v.err != nil:
			d.fail(v.err)
			return
		case v.unbegun:
			d.putBack(ctx, &letter)
			continue
		case v.unreached && d.notLast():
			// The server wants no more connections than there are.
			d.putBack(ctx, &letter)
			return
		case v.stop != "":
			d.stop(v.stop)
		}
		recorded.Go(func() { d.settle(ctx, &letter, &v) })
		if l.open() {
			d.start(ctx)
		}
	}
}

// take allows a lane to claim one more letter.
func (d *drain) take(ctx context.Context) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.left <= 0 {
		return false
	}
	if ctx.Err() != nil {
		if d.res.Stopped == "" && d.err == nil {
			d.res.Stopped = "shutting down"
		}
		return false
	}
	d.left--
	return true
}

// stop has every lane put its letter back, unless that is at its dot.
func (d *drain) stop(why string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.res.Stopped == "" {
		d.res.Stopped = why
	}
	d.cancel(errStopped)
}

// fail does the same because of the outbox.
func (d *drain) fail(err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.err == nil {
		d.err = err
	}
	d.cancel(errStopped)
}

// settle records what became of a letter and counts it. If letters have fared
// badly of late it pauses the queue; the lane's next letter is then put back.
func (d *drain) settle(ctx context.Context, l *schedule.Message, v *verdict) {
	now := d.now()
	v.outcome.EndsPause = l.Probe && v.outcome.Code != 0 && !v.unreached
	if err := d.record(ctx, l, v.outcome, now); err != nil {
		d.fail(err)
		return
	}
	d.mu.Lock()
	d.res.count(v.outcome.State)
	b := d.lately.note(l, v, now)
	d.braked = d.braked || b.Why != ""
	d.mu.Unlock()
	if b.Why == "" {
		return
	}
	if err := d.bookkeep(ctx, func(ctx context.Context) error { return d.box.Brake(ctx, b, now) }); err != nil {
		d.fail(fmt.Errorf("pause the queue: %w", err))
		return
	}
	d.stop(b.Why)
}

// putBack leaves a letter as if it had not been claimed.
func (d *drain) putBack(ctx context.Context, l *schedule.Message) {
	o := schedule.Outcome{State: schedule.MessageQueued, Code: l.Code, Enhanced: l.Enhanced, Answer: l.Answer, NextAt: l.NextAt}
	if err := d.record(ctx, l, o, d.now()); err != nil {
		d.fail(err)
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.left++
}

// notLast counts a lane that gives up for lack of a connection and reports
// whether there is one that has not.
func (d *drain) notLast() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.gaveUp++
	return d.gaveUp < d.started
}
