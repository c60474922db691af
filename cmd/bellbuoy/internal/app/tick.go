package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"time"

	"bellbuoy/notify"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
)

// Tick is one turn of the daemon: settle the plan, decide what is to be told, look
// into the mailbox, back up. Every part stands for itself. It may be called at any
// time and as often as one likes; what is due is decided by rows with unique keys.
// What was decided leaves by [App.Send], a turn of its own: a mail server that takes
// minutes for a message keeps neither plan nor backup waiting.
func (a *App) Tick(ctx context.Context, now func() time.Time, log *slog.Logger, jobs ...Job) error {
	at := now()
	today := a.Day(at)
	done, err := a.Settle(ctx, at, today, nil)
	if done.Boats > 0 {
		log.InfoContext(ctx, "planned", "boats", done.Boats, "changed", done.Changed)
	}
	errs := []error{
		wrap("plan", err), wrap("write calendars that were left", a.publishLeft(ctx, at, today)), wrap("keys of the links", a.keysTick(ctx, at)), wrap("watch for a freeze", a.freezeTick(ctx, at, log)),
		wrap("note who follows a calendar", a.writeFetches(ctx)), wrap("queue what is owed", a.owedTick(ctx, at)), wrap("remind", a.remindTick(ctx, at, log)),
	}
	for _, j := range jobs {
		errs = append(errs, wrap(j.Name, j.Run(ctx, at, log)))
	}
	errs = append(errs, wrap("look into the mailbox", a.mailboxTick(ctx, at, log)))
	// Last: on a large shop it takes a while, and nothing should wait for it.
	errs = append(errs, wrap("back up", a.backupTick(ctx, at, log)), wrap("remove what is old", a.thinTick(ctx, at, log)))
	return errors.Join(errs...)
}

// Job is one more part of a turn.
type Job struct {
	Name string // what it does, for an error
	Run  func(ctx context.Context, at time.Time, log *slog.Logger) error
}

func wrap(doing string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// jobRemind names the job of asking for every customer what is to be told.
const jobRemind = "remind"

// remindTick asks for all customers once an hour, and again after a fault.
func (a *App) remindTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	return a.OncePer(ctx, jobRemind, at.UTC().Format("2006-01-02T15"), at, func() error {
		n, err := a.Remind(ctx, at)
		if n > 0 {
			log.InfoContext(ctx, "queued reminders", "emails", n)
		}
		return err
	})
}

// OncePer does a job the first time that it is asked for under a key. A job
// that failed may be tried again, also when the context has ended.
func (a *App) OncePer(ctx context.Context, job, key string, at time.Time, do func() error) error {
	first, err := a.db.OncePer(ctx, job, key, at)
	if err != nil || !first {
		return err
	}
	if err := do(); err != nil {
		return errors.Join(err, a.db.ForgetTick(context.WithoutCancel(ctx), job, key))
	}
	return nil
}

// mostAtOnce is how many letters one tick sends at the most.
const mostAtOnce = 200

// Send is the other turn of the daemon: what is due goes to the mail server. One
// runs at a time.
func (a *App) Send(ctx context.Context, now func() time.Time, sender *send.Sender, log *slog.Logger) error {
	if a.MaySend != nil && !a.MaySend() {
		return nil // the log has said so
	}
	since := now()
	requeued, uncertain, err := outbox.Recover(ctx, a.db, since)
	if err != nil {
		return err
	}
	if requeued+uncertain > 0 {
		log.WarnContext(ctx, "emails whose sending was cut short", "tried_again", requeued, "uncertain", uncertain)
	}
	expired, err := outbox.Expire(ctx, a.db, now())
	if err != nil {
		return err
	}
	r, err := a.drainTwice(ctx, now, since, sender)
	if r != (send.Result{}) || expired > 0 {
		level := slog.LevelInfo
		if r.Stopped != "" {
			level = slog.LevelWarn
		}
		log.Log(ctx, level, "sent", "sent", r.Sent, "deferred", r.Deferred, "refused", r.Refused,
			"uncertain", r.Uncertain, "expired", r.Expired+expired, "stopped", r.Stopped)
	}
	return err
}

// drainTwice drains, decides again for those whose letters were withdrawn since a
// moment because they were no longer true, and sends what comes of it.
func (a *App) drainTwice(ctx context.Context, now func() time.Time, since time.Time, sender *send.Sender) (send.Result, error) {
	r, err := a.drain(ctx, now, sender)
	if err != nil || r.Stopped != "" {
		return r, err
	}
	if n, err := a.decideAgain(ctx, now(), since); err != nil || n == 0 {
		return r, err
	}
	more, err := a.drain(ctx, now, sender)
	r.Add(more)
	return r, err
}

// drain sends what the minute still has room for.
func (a *App) drain(ctx context.Context, now func() time.Time, sender *send.Sender) (send.Result, error) {
	most := mostAtOnce
	if rate := a.Config.Mail.PerMinute; rate > 0 {
		sent, err := outbox.SentSince(ctx, a.DB, now().Add(-time.Minute), now())
		if err != nil {
			return send.Result{}, err
		}
		most = min(most, max(0, rate-sent))
	}
	return sender.Drain(ctx, now, most)
}

// ErrLease says that only the daemon may send, since it holds the lease.
var ErrLease = errors.New("the settings name a lease, and only the daemon that holds it sends emails")

// NewSender prepares the way to the shop's mail server; nil if the settings
// name none, [ErrLease] if they name a lease and this process asks for none.
func (a *App) NewSender() (*send.Sender, error) {
	m := a.Config.Mail
	if m.Server == "" {
		return nil, nil
	}
	if a.Config.Lease.Object != "" && a.MaySend == nil {
		return nil, ErrLease
	}
	hello := m.Hello
	if hello == "" {
		hello = a.Config.Host()
	}
	cfg := send.Config{
		Server: m.Server, Security: m.Security, Hello: hello, Auth: m.Auth, User: m.User,
		Jitter: rand.Float64, ReturnPath: a.returnPath(), MaySend: a.MaySend,
	}
	cfg.Secret = a.password(m.PasswordFile)
	return send.New(outbox.NewQueue(a.db), cfg)
}

// password reads a file again each time, because access tokens change; nil if
// the settings name none.
func (a *App) password(file string) func(context.Context) (string, error) {
	if file == "" {
		return nil
	}
	path := a.Config.Path(file)
	return func(context.Context) (string, error) {
		b, err := os.ReadFile(path)
		return strings.TrimSpace(string(b)), err
	}
}

// SendNow settles, queues and sends at once, for the command line.
func (a *App) SendNow(ctx context.Context, now func() time.Time, sender *send.Sender) (send.Result, error) {
	at := now()
	if _, err := a.Settle(ctx, at, a.Day(at), nil); err != nil {
		return send.Result{}, err
	}
	if _, err := a.Remind(ctx, at); err != nil {
		return send.Result{}, err
	}
	if _, _, err := outbox.Recover(ctx, a.db, now()); err != nil {
		return send.Result{}, err
	}
	expired, err := outbox.Expire(ctx, a.db, now())
	if err != nil {
		return send.Result{}, err
	}
	res, err := a.drainTwice(ctx, now, at, sender)
	res.Expired += expired
	return res, err
}

// Rehearse says what would go out from one day to another if sending were
// switched on at the first, with the plan as it stands and nobody answering.
// It changes nothing.
func (a *App) Rehearse(ctx context.Context, first, last civil.Day) ([]notify.Rehearsal, error) {
	var all []schedule.Recipient
	err := a.EachRecipient(ctx, func(r *schedule.Recipient) error {
		if len(r.Boats) > 0 {
			all = append(all, *r)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	days := notify.Rehearse(all, a.Policy(), first.At(0, 0, a.Config.Zone()), int(last-first)+1)
	freeze, err := a.rehearseFreeze(ctx, first)
	if err != nil || len(freeze) == 0 {
		return days, err
	}
	if len(days) == 0 || days[0].Day != first {
		days = slices.Insert(days, 0, notify.Rehearsal{Day: first})
	}
	days[0].Notices = append(freeze, days[0].Notices...)
	return days, nil
}
