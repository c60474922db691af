package boat

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/group"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// ownershipPage is a boat's owners in order, and the ways in which it goes on.
type ownershipPage struct {
	Boat    schedule.Boat
	Owner   schedule.Customer // without an id while the shop has it
	Past    []pastOwner
	Claim   *store.OpenAnswer // the owner's word that it is sold, nil for none
	Day     civil.Day
	Find    string
	Matches []schedule.Customer
	To      schedule.Customer // the new owner that was chosen
	Way     []string
	Booked  []schedule.Booking // from the day on
	Refused string
	Sisters []sister // shops of the group that it can go to
}

// sister is a sister shop that is open.
type sister struct {
	group.Member
	Name   string
	Places []string
}

// pastOwner is one time of owning.
type pastOwner struct {
	Customer schedule.Customer
	From, To civil.Day
}

func (s pages) ownershipForm(r *http.Request) (site.Response, error) {
	p, err := s.ownershipPage(r)
	return site.Response{Page: "ownership.html", Data: p}, err
}

func (s pages) ownershipPage(r *http.Request) (*ownershipPage, error) {
	ctx, id := r.Context(), r.PathValue("id")
	b, err := s.App.DB.Boat(ctx, id)
	if err != nil {
		return nil, err
	}
	p := &ownershipPage{Boat: b, Day: s.Today(), Find: r.FormValue("find_buyer"), Way: schedule.ContactWays}
	if p.Owner, err = s.App.OwnerOf(ctx, id); err != nil {
		return nil, err
	}
	times, err := s.App.DB.Ownerships(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, o := range times {
		c, err := s.App.DB.Customer(ctx, o.CustomerID)
		if err != nil {
			return nil, err
		}
		p.Past = append(p.Past, pastOwner{c, o.From, o.To})
	}
	if to := r.FormValue("customer"); to != "" {
		if p.To, err = s.App.DB.Customer(ctx, to); err != nil {
			return nil, err
		}
	} else if p.Matches, err = s.App.DB.FindCustomers(ctx, p.Find, 12); err != nil {
		return nil, err
	}
	if p.Booked, err = s.bookedFrom(r, id); err != nil {
		return nil, err
	}
	p.Sisters = s.sisters()
	p.Claim, err = s.claim(r, id)
	return p, err
}

// sisters are the other shops of the group that are open.
func (s pages) sisters() []sister {
	if s.Group == nil {
		return nil
	}
	g, folder := s.Group()
	if g == nil {
		return nil
	}
	var all []sister
	for _, m := range g.Members() {
		if m.App != nil && m.Folder != folder {
			all = append(all, sister{m, m.App.Config.Shop.Name, m.App.Config.PlaceNames()})
		}
	}
	return all
}

// toSister sends the boat to a sister shop, by the consent that the form has.
func (s pages) toSister(r *http.Request, p *ownershipPage) (note string, err error) {
	i := slices.IndexFunc(p.Sisters, func(x sister) bool { return x.Folder == r.PostFormValue("sister") })
	if i < 0 {
		return "", site.At("sister", "Choose the shop that gets the boat.")
	}
	t := store.Transfer{BoatID: p.Boat.ID, Day: s.Today(), Place: strings.TrimSpace(r.PostFormValue("place"))}
	t.Consent = store.Consent{By: strings.TrimSpace(r.PostFormValue("consent_by")), How: strings.TrimSpace(r.PostFormValue("consent_how"))}
	if !slices.Contains(p.Sisters[i].Places, t.Place) {
		return "", site.At("place", p.Sisters[i].Name+" has these places: "+strings.Join(p.Sisters[i].Places, ", ")+".")
	}
	if t.Consent.On, err = civil.Parse(r.PostFormValue("consent_on")); err != nil || t.Consent.On > s.Today() {
		return "", site.At("consent_on", "The day is written like "+s.Today().String()+", and not still to come.")
	}
	did, err := group.Transfer(r.Context(), s.Now(), site.Actor(r), s.App, p.Sisters[i].App, t)
	if err != nil {
		return "", err
	}
	if note = "The boat is at " + did.Sister + " now, as boat " + did.BoatID + "."; did.Told {
		return note + " " + p.Owner.Name + " gets an email from there.", nil
	}
	return note + " " + p.Owner.Name + " gets no email: please call.", nil
}

// bookedFrom is what is booked for a boat from the form's day on, else from
// today: somebody must say what becomes of it.
func (s pages) bookedFrom(r *http.Request, boatID string) ([]schedule.Booking, error) {
	from := s.Today()
	if d, err := civil.Parse(r.PostFormValue("day")); err == nil {
		from = d
	}
	f, err := s.App.Facts(r.Context(), boatID)
	if err != nil {
		return nil, err
	}
	booked := slices.DeleteFunc(f.Bookings, func(b schedule.Booking) bool { return b.Day < from })
	slices.SortFunc(booked, func(x, y schedule.Booking) int {
		return cmp.Or(cmp.Compare(x.Day, y.Day), cmp.Compare(x.VisitID, y.VisitID))
	})
	return booked, nil
}

// readBooked reads what becomes of the booked days.
func readBooked(r *http.Request, booked []schedule.Booking) (string, error) {
	choice := r.PostFormValue("booked")
	if len(booked) > 0 && choice != store.KeepBooked && choice != store.GiveUpBooked {
		return "", site.At("booked", "Say what becomes of the booked day: keep it, or give it up.")
	}
	return choice, nil
}

// bookedWords say what became of the booked days.
func (s pages) bookedWords(booked []schedule.Booking, choice string) string {
	said, end := "", " is no longer booked."
	if choice == store.KeepBooked {
		end = " stays booked."
	}
	for _, b := range booked {
		said += " The " + words.LowerFirst(schedule.VisitTitle(b.Kind)) + " on " + s.Format().Date(b.Day) + end
	}
	return said
}

// claim is the present owner's word that a boat is sold, nil for none.
func (s pages) claim(r *http.Request, boatID string) (*store.OpenAnswer, error) {
	open, err := s.App.DB.OpenAnswers(r.Context(), schedule.AnswerSold, 500)
	if err != nil {
		return nil, err
	}
	for i := range open {
		if open[i].Boat.ID == boatID {
			return &open[i], nil
		}
	}
	return nil, nil
}

// handOver takes what became of a boat: taken in, sold on, gone, or nothing.
func (s pages) handOver(r *http.Request) (site.Response, error) {
	p, err := s.ownershipPage(r)
	if err != nil {
		return site.Response{}, err
	}
	page := "/boats/" + url.PathEscape(p.Boat.ID)
	if r.PostFormValue("what") == "theirs" {
		if p.Claim != nil {
			_, err = s.App.StillTheirs(r.Context(), s.Now(), site.Actor(r), p.Boat.ID, p.Claim.ID)
		}
		return site.Response{To: page, Note: "The boat stays with its owner, who hears about it again."}, err
	}
	if r.PostFormValue("what") == "sister" {
		note, err := s.toSister(r, p)
		if why, ok := site.Refused(err); ok {
			p.Refused = why.Words()
			return site.Response{Page: "ownership.html", Data: p, Refused: why}, nil
		}
		return site.Response{To: page, Note: note}, err
	}
	o, note, err := s.readHandover(r, p)
	told, welcomed := false, false
	if err == nil {
		told, welcomed, err = s.App.HandOver(r.Context(), s.Now(), site.Actor(r), o)
	}
	if why, ok := site.Refused(err); ok {
		p.Refused = why.Words()
		return site.Response{Page: "ownership.html", Data: p, Refused: why}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	if note += s.bookedWords(p.Booked, o.Booked); len(p.Booked) > 0 && p.Owner.ID != "" {
		if told {
			note += " " + p.Owner.Name + " gets an email about it."
		} else {
			note += " " + p.Owner.Name + " gets no email: please call."
		}
	}
	if o.To.ID != "" || o.To.Name != "" {
		note += " " + welcomeWords(welcomed)
	}
	return site.Response{To: page, Note: note}, nil
}

// readHandover reads the form, and words what it does.
func (s pages) readHandover(r *http.Request, p *ownershipPage) (store.Handover, string, error) {
	o := store.Handover{BoatID: p.Boat.ID}
	var err error
	if o.Day, err = civil.Parse(r.PostFormValue("day")); err != nil || o.Day > s.Today() {
		return o, "", site.At("day", "The day is written like "+s.Today().String()+", and not still to come.")
	}
	if r.PostFormValue("what") == "gone" {
		o.Gone, o.Booked = true, store.GiveUpBooked
		return o, "The boat has left our care. Its history stays on file.", nil
	}
	if o.Booked, err = readBooked(r, p.Booked); err != nil {
		return o, "", err
	}
	switch r.PostFormValue("what") {
	case "taken-in":
		return o, "Traded in. The boat is the shop's until it is sold.", nil
	case "sold-on":
		o.To = readBuyer(r, p.To.ID)
		if o.To.ID == "" && strings.TrimSpace(o.To.Name) == "" {
			return o, "", site.At("name", "Who has it now? Give a name, or choose a customer on file.")
		}
		if o.To.ID != "" && o.To.ID == p.Owner.ID {
			return o, "", site.At("name", "It is theirs already.")
		}
		return o, "The boat has a new owner.", nil
	}
	return o, "", site.At("", "Say what became of the boat.")
}

// welcome queues the welcome mail of a boat whose sale was before mail was
// switched on.
func (s pages) welcome(r *http.Request) (site.Response, error) {
	id := r.PathValue("id")
	queued, err := s.App.Welcome(r.Context(), s.Now(), id)
	return site.Response{To: "/boats/" + url.PathEscape(id) + "/delivery-sheet", Note: welcomeWords(queued)}, err
}
