package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/mailbox"
)

const (
	// settingMailbox holds how far the mailbox of bounces has been read.
	settingMailbox = "mailbox-cursor"

	mailboxEvery   = 3 * time.Minute
	mailboxAtOnce  = 50
	mailboxTimeout = time.Minute // a slow server must not keep the round from turning
)

// mailboxState is how far the mailbox has been read, and when.
type mailboxState struct {
	mailbox.Cursor
	At int64 `json:"at"` // unix seconds of the last look
}

// mailboxTick looks into the mailbox of bounces every few minutes, if the
// settings name one.
func (a *App) mailboxTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	if a.Config.Mail.IMAP.Server == "" || a.MaySend != nil && !a.MaySend() {
		return nil // what one machine takes, another does not see
	}
	st, err := a.mailboxState(ctx)
	if err != nil {
		return err
	}
	if since := at.Sub(time.Unix(st.At, 0)); since >= 0 && since < mailboxEvery {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, mailboxTimeout)
	defer cancel()
	if a.Away != nil {
		defer a.Away()()
	}
	cursor, err := mailbox.Read(ctx, a.mailbox(), st.Cursor, mailboxAtOnce, func(ctx context.Context, message []byte) (bool, error) {
		in, err := survived(log, func() (Incoming, error) { return a.TakeIn(ctx, at, "mailbox", message) })
		if err == nil {
			log.InfoContext(ctx, "email came back", "kind", in.Kind, "letter", in.OutboxID, "suppressed", in.Suppressed, "paused", in.Paused)
		}
		return in.Handled(), err
	})
	// A server that failed is left alone for a while too.
	return errors.Join(err, a.saveMailbox(context.WithoutCancel(ctx), mailboxState{cursor, at.Unix()}))
}

// survived reads a message that anybody may have written. Should reading it break the
// program, the message is left for a person: a daemon that ended over it would meet it
// again at its next start, and do so for ever.
func survived(log *slog.Logger, take func() (Incoming, error)) (in Incoming, err error) {
	defer func() {
		if p := recover(); p != nil {
			log.Error("an email in the mailbox cannot be read and is left there", "fault", p, "stack", string(debug.Stack()))
			in, err = Incoming{Kind: IncomingPerson}, nil
		}
	}()
	return take()
}

func (a *App) mailbox() mailbox.Config {
	m := a.Config.Mail.IMAP
	return mailbox.Config{
		Server: m.Server, Security: m.Security, User: m.User, Secret: a.password(m.PasswordFile),
		Token: m.Auth == "xoauth2", Folder: m.Folder,
	}
}

func (a *App) mailboxState(ctx context.Context) (st mailboxState, err error) {
	text, err := a.DB.Setting(ctx, settingMailbox)
	if isNotFound(err) {
		return st, nil
	}
	if err != nil {
		return st, err
	}
	if err := json.Unmarshal(text, &st); err != nil {
		return st, fmt.Errorf("how far the mailbox was read: %w", err)
	}
	return st, nil
}

func (a *App) saveMailbox(ctx context.Context, st mailboxState) error {
	text, err := json.Marshal(st)
	if err != nil {
		return err
	}
	return a.db.SetSetting(ctx, settingMailbox, text)
}
