package notify

import (
	"bytes"
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

	"bellbuoy/schedule"
)

// ShopInfo is what a mail says about the shop that sends it.
type ShopInfo struct {
	Name     string
	Address  string // postal address, on one line
	Phone    string // "" for none
	From     string // "Our boat shop <service@example.com>"
	ReplyTo  string // "" for From
	Host     string // the domain of message and list ids
	Currency string // "$"
	Zone     *time.Location
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
}

// Renderer turns notices into letters. It is safe for concurrent use.
type Renderer struct {
	shop    ShopInfo
	from    *mail.Address
	replyTo *mail.Address
	texts   *Texts
	page    *template.Template
	dkim    *DKIM
}

// NewRenderer checks what every mail of the shop has in common. A nil key
// leaves the letters unsigned.
func NewRenderer(shop ShopInfo, texts *Texts, key *DKIM) (*Renderer, error) {
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
		fault("shop's name %q, postal address %q: both are needed, the law asks for them in every mail", shop.Name, shop.Address)
	}
	if shop.Host == "" || shop.Zone == nil {
		fault("shop's host %q and time zone are needed", shop.Host)
	}
	page, err := mailPage()
	if err != nil {
		fault("mail page: %w", err)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return &Renderer{shop: shop, from: from, replyTo: replyTo, texts: texts, page: page, dkim: key}, nil
}

// Letter renders a notice into the bytes that go out, once and for all: date,
// message id and boundary come from the notice, so the same notice gives the
// same bytes and a letter that is sent again is the same letter. The letter is
// ready to be queued; its address must be one that [CheckMailAddress] takes.
func (r *Renderer) Letter(n *Notice, links Links) (schedule.Letter, error) {
	to, err := CheckMailAddress(n.Customer.Email)
	if err != nil {
		return schedule.Letter{}, fmt.Errorf("mail to customer %s: %w", n.Customer.ID, err)
	}
	c := compose(r.texts, &r.shop, links, n)
	id := r.letterID(n)
	m, err := r.message(n, c, links, id, to)
	if err != nil {
		return schedule.Letter{}, fmt.Errorf("mail to customer %s: %w", n.Customer.ID, err)
	}
	var raw bytes.Buffer
	if _, err := m.WriteTo(&raw); err != nil {
		return schedule.Letter{}, fmt.Errorf("mail to customer %s: render: %w", n.Customer.ID, err)
	}
	signed := raw.Bytes()
	if r.dkim != nil {
		if signed, err = r.dkim.sign(signed, n.At); err != nil {
			return schedule.Letter{}, fmt.Errorf("mail to customer %s: %w", n.Customer.ID, err)
		}
	}
	return schedule.Letter{
		Key: n.Key, CustomerID: n.Customer.ID, To: to, From: r.from.Address, Step: n.Step, Subjects: n.Subjects, Names: n.Names,
		MessageID: id + "@" + r.shop.Host, Subject: c.Subject, Raw: signed,
		State: schedule.LetterQueued, NextAt: n.At, NotAfter: n.NotAfter, QueuedAt: n.At,
	}, nil
}

// Preview shows what would go out, for the desk.
func (r *Renderer) Preview(n *Notice, links Links) string {
	c := compose(r.texts, &r.shop, links, n)
	var b bytes.Buffer
	fmt.Fprintf(&b, "To: %s <%s>\nFrom: %s\nSubject: %s\nUseful until: %s\n\n", n.Customer.Name, n.Customer.Email,
		r.shop.From, c.Subject, n.NotAfter.In(r.shop.Zone).Format("Mon 2 Jan 2006 15:04"))
	b.WriteString(mailText(c))
	return b.String()
}

// Bodies are the two forms of what a notice says, as they go into its letter.
func (r *Renderer) Bodies(n *Notice, links Links) (text, html string, err error) {
	c := compose(r.texts, &r.shop, links, n)
	html, err = mailHTML(r.page, c)
	return mailText(c), html, err
}

// letterID is the letter's name in its message id and boundary. The instant is
// part of it: a letter that takes the place of one that was withdrawn has its
// key and is another message.
func (r *Renderer) letterID(n *Notice) string {
	mac := hmac.New(sha256.New, r.shop.Secret)
	fmt.Fprintf(mac, "%s\x00%s\x00%d", n.Key, r.shop.Host, n.At.Unix())
	return hex.EncodeToString(mac.Sum(nil)[:12])
}

// message sets headers and bodies.
func (r *Renderer) message(n *Notice, c *mailContent, links Links, id, to string) (*gomail.Msg, error) {
	page, err := mailHTML(r.page, c)
	if err != nil {
		return nil, err
	}
	at := n.At.In(r.shop.Zone)
	opts := []gomail.MsgOption{gomail.WithBoundary("bellbuoy-" + id), gomail.WithNoDefaultUserAgent(), gomail.WithEncoding(gomail.EncodingQP)}
	m := gomail.NewMsg(opts...)
	m.FromMailAddress(r.from)
	m.ToMailAddress(&mail.Address{Name: oneLine(n.Customer.Name), Address: to})
	m.ReplyToMailAddress(r.replyTo)
	m.Subject(c.Subject)
	m.SetDateWithValue(at)
	m.SetMessageIDWithValue(id + "@" + r.shop.Host)
	m.SetGenHeader("Auto-Submitted", "auto-generated")
	m.SetGenHeader("X-Auto-Response-Suppress", "All")
	m.SetGenHeader("Content-Language", c.Language)
	if isReminder(n.Step) {
		m.SetGenHeader("List-Id", "<reminders."+r.shop.Host+">")
		if err := setListUnsubscribe(m, links); err != nil {
			return nil, err
		}
	}
	m.SetBodyString(gomail.TypeTextPlain, mailText(c))
	m.AddAlternativeString(gomail.TypeTextHTML, page)
	return m, nil
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
