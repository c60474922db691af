package app_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"html"
	"io"
	"log/slog"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-msgauth/dkim"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// waiting are the letters of the owner in the outbox.
func waiting(t *testing.T, a *app.App) int {
	t.Helper()
	n := 0
	counts, err := outbox.MessageCounts(context.Background(), a.DB)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range counts {
		n += c
	}
	return n
}

// TestLetterIsMailedOncePerMonth: not while sending is off, once in the first
// days of a month however often the clock ticks, and again in the next month.
func TestLetterIsMailedOncePerMonth(t *testing.T) {
	today := theDay(t, "2026-12-01")
	a := soldShop(t, today, 40, 4, 7)
	noon := func(d civil.Day) time.Time { return d.At(12, 0, a.Config.Zone()) }
	tick := func(d civil.Day) {
		t.Helper()
		if err := figures.Tick(t.Context(), a, noon(d), quiet()); err != nil {
			t.Fatal(err)
		}
	}
	tick(today)
	if n := waiting(t, a); n != 0 {
		t.Fatalf("%d letters with sending off", n)
	}
	if err := a.SwitchSending(t.Context(), noon(today), "test", true); err != nil {
		t.Fatal(err)
	}
	for _, d := range []civil.Day{today, today, today + 1, today + 20} {
		tick(d)
	}
	if n := waiting(t, a); n != 1 {
		t.Errorf("%d letters in December, want 1", n)
	}
	tick(theDay(t, "2027-01-20")) // too late to be news
	if n := waiting(t, a); n != 1 {
		t.Errorf("%d letters on 20 January, want none more", n)
	}
	tick(theDay(t, "2027-02-02"))
	if n := waiting(t, a); n != 2 {
		t.Errorf("%d letters in February, want one more", n)
	}
	kept, err := report.OutlookDays(t.Context(), a.DB)
	if err != nil || len(kept) == 0 || kept[len(kept)-1] != theDay(t, "2027-02-01") {
		t.Errorf("plans kept of %v, %v; want the spring's too", kept, err)
	}
}

// TestLetterSaysTheSameTwice: the plain text and the HTML part hold the same
// sentences, each with its list.
func TestLetterSaysTheSameTwice(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	today := theDay(t, "2026-10-02")
	a := soldShop(t, today, 120, 5, 8)
	x, err := ledger(t, a, today).MonthlyReport(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if x.Month.String() != "2026-09" || len(x.Do) != 3 || len(x.Lines) < 4 {
		t.Fatalf("letter of %s with %d sentences and %d things to do", x.Month, len(x.Lines), len(x.Do))
	}
	l, err := figures.OwnerMail(a, x, today.At(8, 0, a.Config.Zone()))
	if err != nil {
		t.Fatal(err)
	}
	if l.To != "owner@lindrake.example" || l.Key != "owner-2026-09" {
		t.Errorf("to %q, key %q", l.To, l.Key)
	}
	parts := mailParts(t, l.Raw)
	plain, page := parts["text/plain"], parts["text/html"]
	for _, line := range append(x.Lines, x.Do...) {
		for name, text := range map[string]string{"plain text": plain, "HTML": page} {
			text = strings.Join(strings.Fields(html.UnescapeString(text)), " ")
			if !strings.Contains(text, line.Words) {
				t.Errorf("%s lacks %q", name, line.Words)
			}
			if url := "https://service.lindrake.example/owner/list/" + line.List.String(); !strings.Contains(text, url) {
				t.Errorf("%s lacks %s", name, url)
			}
		}
	}
}

// TestOwnersReportIsSigned: with a key in the settings the owner's report leaves
// signed, as every other email of the shop does.
func TestOwnersReportIsSigned(t *testing.T) {
	today := theDay(t, "2026-10-02")
	a := soldShop(t, today, 12, 3, 8)
	public, private, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	der, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	key := filepath.Join(t.TempDir(), "dkim.pem")
	if err := os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	cfg := a.Config
	cfg.Mail.DKIMKeyFile, cfg.Mail.DKIMDomain, cfg.Mail.DKIMSelector = key, "lindrake.example", "s1"
	if a, err = app.Open(t.Context(), cfg); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	x, err := ledger(t, a, today).MonthlyReport(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	l, err := figures.OwnerMail(a, x, today.At(8, 0, a.Config.Zone()))
	if err != nil {
		t.Fatal(err)
	}
	vs, err := dkim.VerifyWithOptions(bytes.NewReader(l.Raw), &dkim.VerifyOptions{LookupTXT: func(name string) ([]string, error) {
		return []string{"v=DKIM1; k=ed25519; p=" + base64.StdEncoding.EncodeToString(public)}, nil
	}})
	if err != nil || len(vs) != 1 || vs[0].Err != nil || vs[0].Domain != "lindrake.example" {
		t.Errorf("the signature: %v, %v", vs, err)
	}
}

// TestOwnersLinksAreNamed: no two links of the report with the same words lead to
// different pages, so that who hears them read out of context knows which is which.
func TestOwnersLinksAreNamed(t *testing.T) {
	today := theDay(t, "2026-10-02")
	a := soldShop(t, today, 60, 5, 8)
	x, err := ledger(t, a, today).MonthlyReport(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	l, err := figures.OwnerMail(a, x, today.At(8, 0, a.Config.Zone()))
	if err != nil {
		t.Fatal(err)
	}
	to := map[string]string{}
	for _, m := range regexp.MustCompile(`<a [^>]*href="([^"]+)"[^>]*>([^<]+)</a>`).FindAllStringSubmatch(mailParts(t, l.Raw)["text/html"], -1) {
		if was, ok := to[m[2]]; ok && was != m[1] {
			t.Errorf("%q leads to %s and to %s", m[2], was, m[1])
		}
		to[m[2]] = m[1]
	}
	if len(to) < 5 {
		t.Errorf("only %d names of links: %v", len(to), to)
	}
}

// mailParts reads the parts of a mail with the standard library, by type.
func mailParts(t *testing.T, raw []byte) map[string]string {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	_, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	parts := make(map[string]string)
	r := multipart.NewReader(m.Body, params["boundary"])
	for {
		p, err := r.NextRawPart()
		if err == io.EOF {
			return parts
		}
		if err != nil {
			t.Fatal(err)
		}
		kind, _, err := mime.ParseMediaType(p.Header.Get("Content-Type"))
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(quotedprintable.NewReader(p))
		if err != nil {
			t.Fatal(err)
		}
		parts[kind] = strings.ReplaceAll(string(body), "\r\n", "\n")
	}
}

// TestPutOnCallList: the wish stands until a call is logged that reached the
// customer.
func TestPutOnCallList(t *testing.T) {
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 100, 6, 9)
	l := ledger(t, a, today)
	away, err := l.Away(t.Context())
	if err != nil || len(away) == 0 {
		t.Fatalf("%d away, %v", len(away), err)
	}
	first := away[0]
	at := today.At(9, 0, a.Config.Zone())
	if err := l.PutOnCallList(t.Context(), wish(first.Boat.ID, at)); err != nil {
		t.Fatal(err)
	}
	if err := l.PutOnCallList(t.Context(), wish("no such boat", at)); err == nil {
		t.Error("a boat that there is not was put on the round")
	}
	if again, err := l.Away(t.Context()); err != nil || !again[0].Wished {
		t.Errorf("wished %v, %v", again[0].Wished, err)
	}
	all, err := report.CallRequests(t.Context(), a.DB)
	if err != nil || len(all) != 1 || all[0].CustomerID != first.Customer.ID || all[0].Why == "" {
		t.Fatalf("%+v, %v", all, err)
	}
	for _, x := range []struct {
		outcome string
		left    int
	}{{store.CallNoAnswer, 1}, {store.CallMessage, 1}, {store.CallThinks, 0}} {
		call := store.Call{CustomerID: first.Customer.ID, Actor: "test", Outcome: x.outcome}
		if err := a.Writer().LogCall(t.Context(), at.Add(time.Hour), call); err != nil {
			t.Fatal(err)
		}
		if all, err := report.CallRequests(t.Context(), a.DB); err != nil || len(all) != x.left {
			t.Errorf("after a call, %s: %+v, %v", x.outcome, all, err)
		}
	}
}

func wish(boat string, at time.Time) report.CallRequest {
	return report.CallRequest{BoatID: boat, At: at, Actor: "test"}
}

// TestLetterNeedsNoHistory: a shop on its first day has a letter too.
func TestLetterNeedsNoHistory(t *testing.T) {
	a := openApp(t, 2)
	today := theDay(t, figuresDay)
	l := ledger(t, a, today)
	if _, err := l.Report(t.Context()); err != nil {
		t.Fatal(err)
	}
	f, err := l.Funnel(t.Context(), returns.SeasonOf(today))
	if err != nil || f.Known {
		t.Errorf("known %v, %v", f.Known, err)
	}
	if err := figures.Tick(t.Context(), a, today.At(9, 0, a.Config.Zone()), quiet()); err != nil {
		t.Error(err)
	}
}
