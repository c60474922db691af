package lease

import "time"

// Who took the lease keeps it by writing it again every [RenewEvery], and sends for
// [Fresh] after the last such write was begun. Another takes it once it has lain
// unchanged for [Lasts], and then sends nothing for [Wait]. So at least
// Lasts + Wait - Fresh = 55 seconds lie between the last final dot of the one and
// the first of the other, whatever their clocks show.
const (
	Lasts      = 30 * time.Second
	RenewEvery = 10 * time.Second
	Fresh      = 20 * time.Second
	Wait       = 45 * time.Second
)

// Seen is the lease as it was found.
type Seen struct {
	Tag    string // another one after each write; "" if nobody has written it yet
	Holder string // who wrote it last
}

// Claim is what one process knows about the lease. The zero value with a name, which
// must be its own alone, has seen nothing. Moments are of this process's clock; those
// of other machines do not count.
type Claim struct {
	Me string

	seen    Seen
	since   time.Time // from when on it has been as seen, zero before the first look
	held    bool
	other   bool      // another process renewed it while this one looked on
	renewed time.Time // when the last write that is known to have succeeded was begun
	quiet   time.Time // nothing is sent before it
}

// Saw takes note of how the lease was found. at is after the answer came: only then
// is it certain that the holder began its write before.
func (c *Claim) Saw(s Seen, at time.Time) {
	if c.since.IsZero() || s.Tag != c.seen.Tag {
		c.other = !c.since.IsZero() && s.Tag != "" && s.Holder != c.Me
		c.seen, c.since = s, at
	}
	// A write of our own whose answer was lost is ours all the same.
	c.held = c.held && s.Holder == c.Me
}

// Over returns the tag that a write must find, "" for no object, and whether to write
// now: to renew, or to take what nobody has renewed for long enough.
func (c *Claim) Over(now time.Time) (tag string, write bool) {
	switch {
	case c.since.IsZero():
		return "", false
	case c.seen.Tag == "" || c.seen.Holder == c.Me:
		return c.seen.Tag, true
	}
	return c.seen.Tag, now.Sub(c.since) >= Lasts
}

// Wrote takes note of a write that succeeded, begun and answered at these moments.
func (c *Claim) Wrote(tag string, begun, answered time.Time) {
	if !c.held {
		c.held, c.quiet = true, answered.Add(Wait)
	}
	c.seen, c.since, c.renewed, c.other = Seen{tag, c.Me}, answered, begun, false
}

// Held reports whether the lease was this process's when it last looked.
func (c *Claim) Held() bool { return c.held }

// Elsewhere reports whether another process has the lease and is alive: what this one
// is told now, nobody will see. A lease that nobody has renewed since the first look
// may be the last one of this process before it was started again.
func (c *Claim) Elsewhere() bool { return c.other }

// MaySend reports whether an email may go out now.
func (c *Claim) MaySend(now time.Time) bool {
	return c.held && age(now, c.renewed) < Fresh && !now.Before(c.quiet)
}

// age is how old a moment is by the clock that says more: the monotonic one stands
// still while a machine sleeps, and the one on the wall can be set back.
func age(now, then time.Time) time.Duration {
	return max(now.Sub(then), now.Round(0).Sub(then.Round(0)))
}
