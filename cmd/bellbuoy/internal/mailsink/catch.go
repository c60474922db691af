// Package catch is a mail server that keeps what it is given and passes nothing
// on: the demo's mail ends here and is shown on a page. It listens on loopback
// only and is no part of a real shop.
package mailsink

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	"net/http"
	"net/mail"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-smtp"
)

// Box keeps the newest mails. It is also the page that shows them.
type Store struct {
	mu    sync.Mutex
	most  int
	first int // number of mails[0]
	mails [][]byte
}

// New returns a box for at most so many mails; older ones fall out.
func New(most int) *Store { return &Store{most: most} }

func (b *Store) add(raw []byte) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.mails = append(b.mails, raw)
	if over := len(b.mails) - b.most; over > 0 {
		b.mails, b.first = b.mails[over:], b.first+over
	}
}

// Len is how many mails came in so far.
func (b *Store) Len() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.first + len(b.mails)
}

func (b *Store) get(n int) []byte {
	b.mu.Lock()
	defer b.mu.Unlock()
	if n < b.first || n >= b.first+len(b.mails) {
		return nil
	}
	return b.mails[n-b.first]
}

// Serve takes mail on a listener until the server is closed.
func Serve(ln net.Listener, b *Store) *smtp.Server {
	s := smtp.NewServer(backend{b})
	s.Domain = "localhost"
	s.MaxMessageBytes = 4 << 20
	s.ReadTimeout, s.WriteTimeout = time.Minute, time.Minute
	go s.Serve(ln)
	return s
}

type backend struct{ box *Store }

func (b backend) NewSession(*smtp.Conn) (smtp.Session, error) { return session(b), nil }

type session struct{ box *Store }

func (s session) Mail(string, *smtp.MailOptions) error { return nil }
func (s session) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (s session) Reset()                               {}
func (s session) Logout() error                        { return nil }

func (s session) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err == nil {
		s.box.add(raw)
	}
	return err
}

// Mail is a caught mail as the page shows it.
type Mail struct {
	N                       int
	From, To, Subject, Date string
	Text, HTML              string
}

// Newest returns the mails, the newest first, at most n of them.
func (b *Store) Newest(n int) []Mail {
	b.mu.Lock()
	raws := b.mails[max(0, len(b.mails)-n):]
	last := b.first + len(b.mails) - 1
	b.mu.Unlock()
	out := make([]Mail, 0, len(raws))
	for i := len(raws) - 1; i >= 0; i-- {
		m := read(raws[i])
		m.N = last - (len(raws) - 1 - i)
		out = append(out, m)
	}
	return out
}

// read takes a mail apart; what cannot be read is left empty.
func read(raw []byte) Mail {
	var m Mail
	msg, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return m
	}
	dec := new(mime.WordDecoder)
	head := func(k string) string {
		s, err := dec.DecodeHeader(msg.Header.Get(k))
		if err != nil {
			return msg.Header.Get(k)
		}
		return s
	}
	m.From, m.To, m.Subject, m.Date = head("From"), head("To"), head("Subject"), head("Date")
	_, params, err := mime.ParseMediaType(msg.Header.Get("Content-Type"))
	if err != nil {
		return m
	}
	parts := multipart.NewReader(msg.Body, params["boundary"])
	for {
		p, err := parts.NextRawPart()
		if err != nil {
			return m
		}
		var body io.Reader = p
		if strings.EqualFold(p.Header.Get("Content-Transfer-Encoding"), "quoted-printable") {
			body = quotedprintable.NewReader(p)
		}
		b, err := io.ReadAll(body)
		if err != nil {
			return m
		}
		if strings.HasPrefix(p.Header.Get("Content-Type"), "text/html") {
			m.HTML = string(b)
		} else {
			m.Text = string(b)
		}
	}
}

// ServeHTTP shows one mail: ?n=3 its HTML part, with &part=raw its source.
func (b *Store) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	n, err := strconv.Atoi(r.FormValue("n"))
	raw := b.get(n)
	if err != nil || raw == nil {
		http.NotFound(w, r)
		return
	}
	if r.FormValue("part") == "raw" {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.Write(raw)
		return
	}
	// The mail brings its own inline styles, and may do nothing else.
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; sandbox allow-top-navigation-by-user-activation")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	m := read(raw)
	if m.HTML == "" {
		fmt.Fprintf(w, "<pre>%s</pre>", template.HTMLEscapeString(m.Text))
		return
	}
	io.WriteString(w, m.HTML)
}
