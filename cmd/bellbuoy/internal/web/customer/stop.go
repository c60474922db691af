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
	Name  string
	Phone string
	Mails store.MailChoice
	Done  bool // something was just chosen
}

// stopFor opens the page of mails. An address that was replaced by a newer one
// still stops mails: whoever holds an old mail must be able to.
func (s pages) stopFor(r *http.Request) (stopPageData, schedule.Customer, bool, error) {
	c, code, err := s.holder(r, link.PurposeStop)
	if err != nil || code != http.StatusOK && code != http.StatusGone {
		return stopPageData{}, c, false, err
	}
	p := stopPageData{Base: "/stop/" + r.PathValue("token"), Name: c.Name, Phone: s.App.Config.Shop.Phone}
	p.Mails, err = s.App.DB.MailChoice(r.Context(), c.ID)
	return p, c, true, err
}

// stopPage shows what may be stopped. Looking at it stops nothing: mail
// scanners follow links.
func (s pages) stopPage(r *http.Request) (site.Response, error) {
	p, _, ours, err := s.stopFor(r)
	if err != nil {
		return site.Response{}, err
	}
	if !ours {
		return s.stale(r, schedule.Customer{}, http.StatusNotFound)
	}
	p.Done = r.FormValue("done") != ""
	return site.Response{Page: "stop.html", Data: p}, nil
}

// stop takes the one click of a mail program (RFC 8058) or a choice made on the
// page. Neither needs a cookie. The mail program is answered by the page itself and
// no redirect, which the RFC forbids. Asked again it changes nothing more.
func (s pages) stop(r *http.Request) (site.Response, error) {
	p, c, ours, err := s.stopFor(r)
	if err != nil {
		return site.Response{}, err
	}
	if !ours {
		return s.stale(r, schedule.Customer{}, http.StatusNotFound)
	}
	want := store.MailChoice{NoReminders: true, NoMail: p.Mails.NoMail}
	oneClick := r.FormValue("List-Unsubscribe") == "One-Click"
	if !oneClick {
		var ok bool
		if want, ok = mailChoice(r.FormValue("mails")); !ok {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "It is not said which mails are to stop.")
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
