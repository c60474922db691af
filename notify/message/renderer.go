package message

import (
	"bytes"
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"net/mail"
	"net/url"
	"time"

	gomail "github.com/wneessen/go-mail"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// Shop is what a mail says about the shop that sends it.
type Shop struct {
	Name    string
	Address string // postal address, on one line
	Phone   string // "" for none
	From    string // "Our boat shop <service@example.com>"
	ReplyTo string // "" for From
	Host    string // the domain of message and list ids
	Format  words.Format
	// Language is that of customers who have none of their own; "" is English.
	Language string
	Zone     *time.Location
	Arrival  Arrival
	// Secret goes into the message ids, so that only who got a letter can quote
	// its id: a reply or a bounce that does is believed.
	Secret []byte
}

// Links are the addresses that one customer's mail carries. All are pages that
// change nothing when they are only looked at.
type Links struct {
	My       string // the customer's page
	Stop     string // stops reminders; a POST there does it in one click
	StopMail string // a mail address that does the same, "" for none
	Calendar string // subscribes to the customer's feed, "" for none
	File     string // the booked day as a calendar file, "" for none
}

// Renderer turns notices into letters. It is safe for concurrent use.
type Renderer struct {
	shop    Shop
	from    *mail.Address
	replyTo *mail.Address
	texts   *texts.Catalog
	page    *template.Template
	dkim    *DKIM
}

// NewRenderer checks what every mail of the shop has in common. A nil key
// leaves the letters unsigned, a nil catalog words them as built in.
func NewRenderer(shop Shop, catalog *texts.Catalog, key *DKIM) (*Renderer, error) {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	from, err := mail.ParseAddress(shop.From)
	if err != nil {
		fault("sender %q: %w; want for example \"Our boat shop <service@example.com>\"", shop.From, err)
	}
	replyTo := from
	if shop.ReplyTo != "" {
		if replyTo, err = mail.ParseAddress(shop.ReplyTo); err != nil {
			fault("reply address %q: %w", shop.ReplyTo, err)
		}
	}
	if shop.Name == "" || shop.Address == "" {
		fault("shop's name %q, postal address %q: both are needed, the law asks for them in every email", shop.Name, shop.Address)
	}
	if shop.Host == "" || shop.Zone == nil {
		fault("shop's host %q and time zone are needed", shop.Host)
	}
	page, err := template.New("mail.html").Parse(pageTemplate)
	if err != nil {
		fault("mail page: %w", err)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return &Renderer{shop: shop, from: from, replyTo: replyTo, texts: catalog, page: page, dkim: key}, nil
}

// textsFor are the phrases in the language that a customer reads.
func (r *Renderer) textsFor(c *schedule.Customer) *texts.Texts {
	return r.texts.In(cmp.Or(c.Language, r.shop.Language, words.English))
}

// Message renders a notice into the bytes that go out, once and for all: date,
// message id and boundary come from the notice, so the same notice gives the
// same bytes and a letter that is sent again is the same letter. The letter is
// ready to be queued; its address must be one that [notify.CheckMailAddress] takes.
func (r *Renderer) Message(n *notify.Notice, links Links) (schedule.Message, error) {
	to, err := notify.CheckMailAddress(n.Customer.Email)
	if err != nil {
		return schedule.Message{}, fmt.Errorf("mail to customer %s: %w", n.Customer.ID, err)
	}
	c := compose(r.textsFor(&n.Customer), &r.shop, links, n)
	id := r.messageID(n.Key, n.At)
	e := envelope{id: id, to: &mail.Address{Name: words.OneLine(n.Customer.Name), Address: to}, at: n.At}
	if isReminder(n.Step) {
		e.stop = &links
	}
	e.invitation = n.Invitation
	raw, err := r.render(&e, c)
	if err != nil {
		return schedule.Message{}, fmt.Errorf("mail to customer %s: %w", n.Customer.ID, err)
	}
	return schedule.Message{
		Key: n.Key, CustomerID: n.Customer.ID, To: to, From: r.from.Address, Step: n.Step, Subjects: n.Subjects, Names: n.Names,
		MessageID: id + "@" + r.shop.Host, Subject: c.Subject, Raw: raw,
		State: schedule.MessageQueued, NextAt: n.At, NotAfter: n.NotAfter, QueuedAt: n.At,
	}, nil
}

// Preview shows what would go out, for the desk.
func (r *Renderer) Preview(n *notify.Notice, links Links) string {
	c := compose(r.textsFor(&n.Customer), &r.shop, links, n)
	var b bytes.Buffer
	fmt.Fprintf(&b, "To: %s <%s>\nFrom: %s\nSubject: %s\nUseful until: %s\n\n", n.Customer.Name, n.Customer.Email,
		r.shop.From, c.Subject, r.until(n.NotAfter))
	b.WriteString(plainText(c))
	return b.String()
}

// until words the moment after which an email is of no use.
func (r *Renderer) until(at time.Time) string {
	f, at := r.shop.Format, at.In(r.shop.Zone)
	day := civil.FromTime(at)
	return f.On(f.ShortWeekday(day), f.ShortDate(day)) + ", " + f.Clock(at.Hour()*60+at.Minute())
}

// Bodies are the two forms of what a notice says, as they go into its letter.
func (r *Renderer) Bodies(n *notify.Notice, links Links) (text, html string, err error) {
	c := compose(r.textsFor(&n.Customer), &r.shop, links, n)
	html, err = htmlText(r.page, c)
	return plainText(c), html, err
}

// messageID is the letter's name in its message id and boundary. The instant is
// part of it: a letter that takes the place of one that was withdrawn has its
// key and is another message.
func (r *Renderer) messageID(key string, at time.Time) string {
	mac := hmac.New(sha256.New, r.shop.Secret)
	fmt.Fprintf(mac, "%s\x00%s\x00%d", key, r.shop.Host, at.Unix())
	return hex.EncodeToString(mac.Sum(nil)[:12])
}

// envelope is what a letter's header says beside its content.
type envelope struct {
	id   string // of the letter, without the host
	to   *mail.Address
	at   time.Time
	stop *Links // how the reader ends such letters; nil if they are no mailing

	invitation *notify.Invitation // nil for none
}

// render sets headers and bodies and signs them.
func (r *Renderer) render(e *envelope, c *content) ([]byte, error) {
	page, err := htmlText(r.page, c)
	if err != nil {
		return nil, err
	}
	m := gomail.NewMsg(gomail.WithBoundary("bellbuoy-"+e.id), gomail.WithNoDefaultUserAgent(), gomail.WithEncoding(gomail.EncodingQP))
	m.FromMailAddress(r.from)
	m.ToMailAddress(e.to)
	m.ReplyToMailAddress(r.replyTo)
	m.Subject(c.Subject)
	m.SetDateWithValue(e.at.In(r.shop.Zone))
	m.SetMessageIDWithValue(e.id + "@" + r.shop.Host)
	m.SetGenHeader("Auto-Submitted", "auto-generated")
	m.SetGenHeader("X-Auto-Response-Suppress", "All")
	m.SetGenHeader("Content-Language", c.Language)
	if e.stop != nil {
		m.SetGenHeader("List-Id", "<reminders."+r.shop.Host+">")
		if err := setListUnsubscribe(m, *e.stop); err != nil {
			return nil, err
		}
	}
	m.SetBodyString(gomail.TypeTextPlain, plainText(c))
	m.AddAlternativeString(gomail.TypeTextHTML, page)
	if v := e.invitation; v != nil {
		// The last alternative and no attachment, the method in the header too: what
		// calendar programs take for an invitation (RFC 6047, 2.4 and 2.5).
		m.AddAlternativeString(gomail.ContentType("text/calendar; method="+v.Method), string(v.Calendar), gomail.WithPartEncoding(gomail.EncodingB64))
	}
	var raw bytes.Buffer
	if _, err := m.WriteTo(&raw); err != nil {
		return nil, fmt.Errorf("render: %w", err)
	}
	if r.dkim == nil {
		return raw.Bytes(), nil
	}
	return r.dkim.sign(raw.Bytes(), e.at)
}

// setListUnsubscribe adds the headers of RFC 2369 and RFC 8058. One click needs
// an https address; over plain http, as in a demonstration, the link is there
// and the one click is not.
func setListUnsubscribe(m *gomail.Msg, links Links) error {
	u, err := url.Parse(links.Stop)
	if err != nil || u.Host == "" {
		return fmt.Errorf("stop link %q: want the address of a page; no reminder goes out without one", links.Stop)
	}
	all := "<" + u.String() + ">"
	if links.StopMail != "" {
		all += ", <mailto:" + links.StopMail + "?subject=stop>"
	}
	m.SetGenHeader("List-Unsubscribe", all)
	if u.Scheme == "https" {
		m.SetGenHeader("List-Unsubscribe-Post", "List-Unsubscribe=One-Click")
	}
	return nil
}
