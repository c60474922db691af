package site

import (
	"cmp"
	"context"
	"errors"
	"html/template"
	"log/slog"
	"net/http"
	"time"

	"github.com/alexedwards/argon2id"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/group"
	"bellbuoy/cmd/bellbuoy/internal/mailsink"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// Options are what the server needs of the world.
type Options struct {
	App *app.App
	Now func() time.Time
	Log *slog.Logger
	// Demo opens the staff's pages without signing in and shows the caught
	// mail. Only the demo, on a shop that is invented, sets it.
	Demo bool
	// PasswordCost is what a guess at the password of nobody takes, as one at
	// somebody's does; nil is [PasswordCost].
	PasswordCost *argon2id.Params
	// Caught holds the demo's mail.
	Caught *mailsink.Store
	// Pulse is how the daemon's turns go, by the real clock; nil where none runs.
	Pulse *Pulse
	// Adopt has the daemon go on by other settings; nil where no page can change any.
	Adopt app.Adopt
	// Group is the group that the shop belongs to, and its folder there: nil, or nil
	// from it, for a shop that stands alone.
	Group func() (g *group.Group, folder string)
	// Pages are shared with the other shops of the process; nil for pages of its own.
	Pages *Pages
	// Version and Revision are the program's.
	Version, Revision string
}

// Server answers every page, feed and form of the shop.
type Site struct {
	Options
	pages     *pages
	static    *static
	passwords *passwords
	throttle  *throttle
	Held      *heldFiles
	wings     []Wing
	// language is that of the readers, "" for staff; texts and format are its.
	language string
	texts    *texts.Texts
	format   words.Format
	compress func(http.Handler) http.HandlerFunc
}

// Wing is the pages of one kind of reader: their routes, and the words that only
// their templates use.
type Wing struct {
	Routes func(*Site) []Route
	Funcs  func(*Site) template.FuncMap // nil for none
}

// New prepares the server; static files are checked now, so that a fault in them stops
// the program and not a customer.
func New(o Options, wings ...Wing) (*Site, error) {
	st, err := loadStatic()
	if err != nil {
		return nil, err
	}
	if o.Pages == nil {
		o.Pages = new(Pages)
	}
	s := &Site{Options: o, static: st, throttle: newThrottle(), Held: new(heldFiles), wings: wings}
	s.passwords = newPasswords(cmp.Or(o.PasswordCost, PasswordCost()))
	if s.compress, err = compressing(); err != nil {
		return nil, err
	}
	s.pages = loadPages(s)
	return s, nil
}

// With is the site of the same shop by other settings: who guessed at passwords,
// and files that wait for a decision, are not forgotten.
func (s *Site) With(h *app.App, now func() time.Time) (*Site, error) {
	o := s.Options
	o.App, o.Now = h, now
	n, err := New(o, s.wings...)
	if err != nil {
		return nil, err
	}
	n.passwords, n.throttle, n.Held = s.passwords, s.throttle, s.Held
	return n, nil
}

// Handler is the whole site with what every answer carries.
func (s *Site) Handler() http.Handler {
	mux := http.NewServeMux()
	for _, r := range s.Routes() {
		mux.Handle(r.Pattern, s.guard(r))
	}
	guard := http.NewCrossOriginProtection()
	for _, r := range s.Routes() {
		if r.CrossOrigin {
			guard.AddInsecureBypassPattern(r.Pattern)
		}
	}
	return s.logged(s.secured(s.compress(guard.Handler(mux))))
}

// secured sets the headers that every answer carries.
func (s *Site) secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("X-Robots-Tag", "noindex, nofollow") // pages of a shop's customers, some of which are their own key
		next.ServeHTTP(w, r)
	})
}

// maxBody is the largest body taken, in bytes, unless a route says otherwise.
const maxBody = 1 << 20

// logged writes one line for each request, without what is secret in its path.
func (s *Site) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		begun := s.Now()
		rec := &recorder{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(rec, r)
		level := slog.LevelInfo
		if probe := r.URL.Path == "/healthz" || r.URL.Path == "/metrics"; probe && rec.status == http.StatusOK {
			level = slog.LevelDebug // several a minute, for ever
		}
		s.Log.LogAttrs(r.Context(), level, "request",
			slog.String("method", r.Method), slog.String("path", scrubPath(r.URL.Path)),
			slog.Int("status", rec.status), slog.Duration("took", s.Now().Sub(begun)))
	})
}

// recorder remembers the status for the log.
type recorder struct {
	http.ResponseWriter
	status int
}

func (r *recorder) WriteHeader(status int) {
	r.status = status
	r.ResponseWriter.WriteHeader(status)
}

// Unwrap lets http.ResponseController reach the writer beneath.
func (r *recorder) Unwrap() http.ResponseWriter { return r.ResponseWriter }

// How long a visitor may take to send a request, its body included, and to be
// answered; and the same for a route that takes large files.
const (
	requestTime = 30 * time.Second
	answerTime  = time.Minute
	uploadTime  = 15 * time.Minute
)

// NewServer is the HTTP server for a handler: who sends byte after byte, for ever,
// is cut off.
func NewServer(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: requestTime, WriteTimeout: answerTime, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 64 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
}

// Serve answers requests until ctx ends, then lets those under way finish for
// at most grace.
func Serve(ctx context.Context, srv *http.Server, serve func() error, grace time.Duration) error {
	failed := make(chan error, 1)
	go func() { failed <- serve() }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer cancel()
	err := srv.Shutdown(stop)
	if e := <-failed; !errors.Is(e, http.ErrServerClosed) {
		err = errors.Join(err, e)
	}
	return err
}
