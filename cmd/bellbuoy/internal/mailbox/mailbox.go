// Package mailbox looks into the mailbox that bounces come to, over IMAP. It
// decides only which messages are new, and hands each to its caller, who says
// whether a person still has to read it; what was dealt with is marked as read,
// everything else is left as it is. It never deletes or moves a message. The
// daily round calls it.
package mailbox

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"slices"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"

	"bellbuoy/notify/send"
)

// Config says where the mailbox is.
type Config struct {
	Server   string // host:port
	Security string // notify.TLS, notify.StartTLS or notify.NoTLS
	User     string
	// Secret gives the password, or with Token the access token of the moment.
	Secret func(context.Context) (string, error)
	Token  bool
	Folder string // "INBOX"
	TLS    *tls.Config
}

// Cursor is how far a mailbox has been read. The zero Cursor is its beginning.
type Cursor struct {
	Validity uint32 `json:"validity"` // of the numbers; another one starts them again
	Last     uint32 `json:"last"`     // the number of the last message that was handed over
}

// Take is handed each new message, up to mostBytes of it, and reports whether
// it is dealt with. On an error the message comes again.
type Take func(ctx context.Context, message []byte) (done bool, err error)

// mostBytes is as much of a message as is fetched: a report comes long before.
const mostBytes = 1 << 20

// Read hands the messages after the cursor to take, oldest first and at most so
// many, and returns the cursor behind the last one that was taken, also beside
// an error. The context bounds the whole of it.
func Read(ctx context.Context, cfg Config, from Cursor, most int, take Take) (Cursor, error) {
	client, err := open(ctx, cfg)
	if err != nil {
		return from, err
	}
	defer client.Close()
	// The library has no contexts: closing the connection ends every wait.
	stop := context.AfterFunc(ctx, func() { client.Close() })
	defer stop()
	to, err := read(ctx, client, cfg.Folder, from, most, take)
	if ctx.Err() != nil {
		err = errors.Join(context.Cause(ctx), err)
	}
	if err != nil {
		return to, fmt.Errorf("read mailbox %q of %s: %w", cfg.Folder, cfg.Server, err)
	}
	client.Logout().Wait() // the work is done; a farewell that fails changes nothing
	return to, nil
}

func read(ctx context.Context, client *imapclient.Client, folder string, from Cursor, most int, take Take) (Cursor, error) {
	box, err := client.Select(folder, nil).Wait()
	if err != nil {
		return from, err
	}
	if box.UIDValidity != from.Validity {
		from = Cursor{Validity: box.UIDValidity}
	}
	fresh, err := newer(client, from)
	if err != nil {
		return from, err
	}
	for _, uid := range fresh[:min(most, len(fresh))] {
		if err := one(ctx, client, uid, take); err != nil {
			return from, err
		}
		from.Last = uint32(uid)
	}
	return from, nil
}

// newer lists the messages after the cursor. A range up to the last message
// holds that one always, new or not.
func newer(client *imapclient.Client, from Cursor) ([]imap.UID, error) {
	var after imap.UIDSet
	after.AddRange(imap.UID(from.Last+1), 0)
	found, err := client.UIDSearch(&imap.SearchCriteria{UID: []imap.UIDSet{after}}, nil).Wait()
	if err != nil {
		return nil, err
	}
	uids := slices.DeleteFunc(found.AllUIDs(), func(u imap.UID) bool { return uint32(u) <= from.Last })
	slices.Sort(uids)
	return uids, nil
}

// one fetches a message without marking it, hands it over, and marks it if it
// is dealt with. One that vanished meanwhile is passed over.
func one(ctx context.Context, client *imapclient.Client, uid imap.UID, take Take) error {
	set := imap.UIDSetNum(uid)
	whole := &imap.FetchItemBodySection{Peek: true, Partial: &imap.SectionPartial{Size: mostBytes}}
	found, err := client.Fetch(set, &imap.FetchOptions{UID: true, BodySection: []*imap.FetchItemBodySection{whole}}).Collect()
	if err != nil || len(found) == 0 || len(found[0].BodySection) == 0 {
		return err
	}
	done, err := take(ctx, found[0].BodySection[0].Bytes)
	if err != nil || !done {
		return err
	}
	seen := &imap.StoreFlags{Op: imap.StoreFlagsAdd, Silent: true, Flags: []imap.Flag{imap.FlagSeen}}
	return client.Store(set, seen, nil).Close()
}

// open connects and signs in.
func open(ctx context.Context, cfg Config) (*imapclient.Client, error) {
	host, _, err := net.SplitHostPort(cfg.Server)
	if err != nil {
		return nil, fmt.Errorf("mailbox server %q: %w; want host:port, for example imap.example.com:993", cfg.Server, err)
	}
	if cfg.Security == send.NoTLS && !send.Loopback(host) {
		return nil, fmt.Errorf("mailbox server %q: signing in without TLS would show the password to the network; set the security to starttls or tls", cfg.Server)
	}
	if cfg.Secret == nil {
		return nil, errors.New("mailbox: the password is missing; name its file in mail.imap.password_file")
	}
	secret, err := cfg.Secret(ctx)
	if err != nil {
		return nil, fmt.Errorf("mailbox: password: %w", err)
	}
	client, err := connect(ctx, cfg, host)
	if err != nil {
		return nil, fmt.Errorf("reach mailbox server %s: %w", cfg.Server, err)
	}
	if cfg.Token {
		err = client.Authenticate(send.XOAuth2(cfg.User, secret))
	} else {
		err = client.Login(cfg.User, secret).Wait()
	}
	if err != nil {
		client.Close()
		return nil, fmt.Errorf("sign in to mailbox server %s as %q: %w", cfg.Server, cfg.User, err)
	}
	return client, nil
}

// connect dials and secures. Until it returns, the context closes the
// connection.
func connect(ctx context.Context, cfg Config, host string) (*imapclient.Client, error) {
	raw, err := new(net.Dialer).DialContext(ctx, "tcp", cfg.Server)
	if err != nil {
		return nil, err
	}
	stop := context.AfterFunc(ctx, func() { raw.Close() })
	defer stop()
	secure := &tls.Config{MinVersion: tls.VersionTLS12}
	if cfg.TLS != nil {
		secure = cfg.TLS.Clone()
	}
	if secure.ServerName == "" {
		secure.ServerName = host
	}
	var client *imapclient.Client
	switch cfg.Security {
	case send.NoTLS:
		client = imapclient.New(raw, nil)
	case send.StartTLS:
		client, err = imapclient.NewStartTLS(raw, &imapclient.Options{TLSConfig: secure})
	default:
		conn := tls.Client(raw, secure)
		if err = conn.HandshakeContext(ctx); err == nil {
			client = imapclient.New(conn, nil)
		}
	}
	if err != nil {
		raw.Close()
		return nil, err
	}
	if err := client.WaitGreeting(); err != nil {
		client.Close()
		return nil, err
	}
	return client, nil
}
