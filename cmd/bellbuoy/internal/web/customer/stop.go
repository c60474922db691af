package customer

import (
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store"
)

// stopPageData is the page behind the link at the foot of every mail.
type stopPageData struct {
	Base  string
	Lang  string // the language of this view, if it is not the customer's own
	Name  string
	Phone string
	Mails store.MailChoice
	Done  bool // something was just chosen
}

// At is the address of the page, in the language of this view.
func (p stopPageData) At() string { return inLanguage(p.Base, p.Lang) }

// stops opens the page of mails to whoever has its address. An address that was
// replaced by a newer one still stops mails: whoever holds an old mail must be able
// to.
func (s pages) stops(h func(s pages, r *http.Request, c schedule.Customer, p stopPageData) (site.Response, error)) site.Handler {
	return func(r *http.Request) (site.Response, error) {
		c, code, err := s.holder(r, link.PurposeStop)
		s, lang := s.speaking(r, c)
		var a site.Response
		if err != nil {
			return s.spoken(r, c, a, lang), err
		}
		if code != http.StatusOK && code != http.StatusGone {
			a, err = s.stale(r, schedule.Customer{}, http.StatusNotFound)
			return s.spoken(r, c, a, lang), err
		}
		p := stopPageData{Lang: lang, Base: "/stop/" + r.PathValue("token"), Name: c.Name, Phone: s.App.Config.Shop.Phone}
		if p.Mails, err = s.App.DB.MailChoice(r.Context(), c.ID); err == nil {
			a, err = h(s, r, c, p)
		}
		return s.spoken(r, c, a, lang), err
	}
}

// stopPage shows what may be stopped. Looking at it stops nothing: mail
// scanners follow links.
func (s pages) stopPage(r *http.Request, _ schedule.Customer, p stopPageData) (site.Response, error) {
	p.Done = r.FormValue("done") != ""
	return site.Response{Page: "stop.html", Data: p}, nil
}

// stop takes the one click of a mail program (RFC 8058) or a choice made on the
// page. Neither needs a cookie. The mail program is answered by the page itself and
// no redirect, which the RFC forbids. Asked again it changes nothing more.
func (s pages) stop(r *http.Request, c schedule.Customer, p stopPageData) (site.Response, error) {
	want := store.MailChoice{NoReminders: true, NoMail: p.Mails.NoMail}
	oneClick := r.FormValue("List-Unsubscribe") == "One-Click"
	if !oneClick {
		var ok bool
		if want, ok = mailChoice(r.FormValue("mails")); !ok {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, s.Say("page_stop.no_choice"))
		}
	}
	if want != p.Mails {
		a := schedule.Answer{CustomerID: c.ID, Kind: schedule.AnswerMails}
		if _, err := s.App.Reply(r.Context(), s.Now(), store.NewAnswer{Answer: a, Mails: want}); err != nil {
			return site.Response{}, err
		}
	}
	if !oneClick {
		return site.Response{To: p.Base + "?done=1"}, nil
	}
	p.Mails, p.Done = want, true
	return site.Response{Page: "stop.html", Data: p}, nil
}
