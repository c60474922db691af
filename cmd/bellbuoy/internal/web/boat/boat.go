package boat

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

const (
	historyFew = 12 // visits that the boat's page shows at first
	changesFew = 12 // lines of the audit log
)

// boatPage is everything about one boat.
type boatPage struct {
	View       schedule.BoatView
	Owner      schedule.Customer
	Owners     []ownerThen
	Components []schedule.Component
	Retired    []schedule.RetiredComponent
	Note       store.BoatNote
	Papers     []schedule.Component // those with a day printed on them
	History    []visitDone
	Earlier    int // visits not shown
	TakenBack  []takenBack
	Total      schedule.Cents
	Curves     []schedule.MeterCurve
	Measured   []measured
	Messages   []schedule.Message
	Calls      []store.Call
	Changes    []site.ChangeRow
	More       int64 // the id before which further changes are found, 0 for none
	Feed       string
	SeenFeed   string // names the address that the page shows, for the form that makes a new one
	Problems   []string
	Here       map[string]store.Stage // how far the visits have come whose boats are with us
	MayBook    bool
	Replies    []site.ReplyRow // what the owner answered about the boat and not about a visit, and stands

	replies []site.ReplyRow // the same about its visits
}

// RepliesTo are the owner's answers about one visit.
func (p *boatPage) RepliesTo(visit string) []site.ReplyRow {
	var out []site.ReplyRow
	for _, a := range p.replies {
		if a.VisitID == visit {
			out = append(out, a)
		}
	}
	return out
}

// visitDone is what was done on one day, in words.
type visitDone struct {
	Day   civil.Day
	By    string // "elsewhere", "before the sale"; "" for us, and for what several did
	Lead  string // what most of it was
	Hours string // on the meter, "" if not read
	Paid  schedule.Cents
	Lines []workLine
}

// workLine is one record in words.
type workLine struct {
	schedule.Record
	Title, Part string
}

// takenBack is a record that was taken back, in words.
type takenBack struct {
	Title string
	Day   civil.Day
	By    string
	On    civil.Day
}

// measured is one measurement in words.
type measured struct {
	store.Measurement
	Part, Words string
}

func (s pages) boat(r *http.Request) (site.Response, error) {
	id, ctx, db := r.PathValue("id"), r.Context(), s.App.DB
	facts, err := s.App.Facts(ctx, id)
	if err != nil {
		return site.Response{}, err
	}
	plan, err := db.Plan(ctx, id)
	if err != nil {
		return site.Response{}, err
	}
	p := boatPage{View: s.App.Planner.View(&facts, &plan), Components: facts.Components, Retired: facts.Retired, Problems: plan.Problems}
	if p.Note, err = db.BoatNote(ctx, id); err != nil {
		return site.Response{}, err
	}
	if p.Here, err = db.InYard(ctx); err != nil {
		return site.Response{}, err
	}
	who, _ := site.StaffOf(r)
	p.MayBook = who.Level() >= site.Desk
	for _, c := range facts.Components {
		if c.Expires != 0 || c.Made != 0 {
			p.Papers = append(p.Papers, c)
		}
	}
	if err := s.fillHistory(r, &p, &facts); err != nil {
		return site.Response{}, err
	}
	p.Curves = s.App.Planner.MeterCurves(&facts, s.Today(), s.Today().AddMonths(monthsAhead))
	if err := s.fillMeasured(r, &p, &facts); err != nil {
		return site.Response{}, err
	}
	if err := s.fillPeople(r, &p, id); err != nil {
		return site.Response{}, err
	}
	before, _ := strconv.ParseInt(r.FormValue("changes"), 10, 64)
	changes, err := report.Changes(ctx, db, id, before, changesFew+1)
	if err != nil {
		return site.Response{}, err
	}
	if p.Changes, p.More, err = s.ChangeRows(ctx, changes, changesFew); err != nil {
		return site.Response{}, err
	}
	p.Feed, err = s.App.FeedURL(ctx, link.ScopeBoat, id)
	p.SeenFeed = site.Seen(p.Feed)
	return site.Response{Page: "boat.html", Data: &p}, err
}

// fillHistory lists the records by visit, newest first, and what was taken back.
func (s pages) fillHistory(r *http.Request, p *boatPage, f *schedule.Facts) error {
	cat := s.App.Planner.Catalogue()
	parts := partNames(f)
	recs := slices.Clone(f.Records)
	slices.SortStableFunc(recs, func(x, y schedule.Record) int { return int(y.Day - x.Day) })
	for _, rec := range recs {
		p.Total += rec.Amount
		by := map[string]string{schedule.ByElsewhere: "elsewhere", schedule.ByBeforeSale: "before the sale"}[rec.By]
		if n := len(p.History); n == 0 || p.History[n-1].Day != rec.Day {
			p.History = append(p.History, visitDone{Day: rec.Day, By: by})
		}
		v := &p.History[len(p.History)-1]
		v.Lines = append(v.Lines, workLine{rec, rec.Title(cat), parts[rec.ComponentID]})
		v.Paid += rec.Amount
		if rec.HasHours {
			v.Hours = s.Format().Hours(rec.Hours)
		}
		if v.By != by {
			v.By = ""
		}
	}
	for i := range p.History {
		p.History[i].Lead = lead(p.History[i].Lines)
	}
	if len(p.History) > historyFew && r.FormValue("history") != "all" {
		p.Earlier = len(p.History) - historyFew
		p.History = p.History[:historyFew]
	}
	back, err := s.App.DB.TakenBackOf(r.Context(), f.Boat.ID)
	for _, b := range back {
		p.TakenBack = append(p.TakenBack, takenBack{b.Record.Title(cat), b.Record.Day, b.Actor, s.DayOf(b.On)})
	}
	return err
}

// lead names a visit by its season, else by its first jobs.
func lead(lines []workLine) string {
	var titles []string
	for _, l := range lines {
		if l.Service == schedule.LayUp || l.Service == schedule.FitOut {
			return l.Title
		}
		if !slices.Contains(titles, l.Title) {
			titles = append(titles, l.Title)
		}
	}
	if len(titles) > 2 {
		titles = append(titles[:2], fmt.Sprintf("%d more", len(titles)-2))
	}
	return strings.Join(titles, ", ")
}

// partNames are what people call a boat's components.
func partNames(f *schedule.Facts) map[string]string {
	names := map[string]string{"": "", f.Boat.ID: "hull"}
	for i := range f.Components {
		names[f.Components[i].ID] = label(&f.Components[i])
	}
	for i := range f.Retired {
		names[f.Retired[i].ID] = label(&f.Retired[i].Component) + " (until " + f.Retired[i].On.String() + ")"
	}
	return names
}

func (s pages) fillMeasured(r *http.Request, p *boatPage, f *schedule.Facts) error {
	all, err := s.App.DB.Measurements(r.Context(), f.Boat.ID)
	if err != nil {
		return err
	}
	parts := partNames(f)
	for _, m := range all {
		p.Measured = append(p.Measured, measured{m, parts[m.ComponentID], measuredWords(m)})
	}
	return nil
}

// measuredWords words a measurement.
func measuredWords(m store.Measurement) string {
	switch m.Kind {
	case store.MeasureCompression:
		figures := make([]string, len(m.Figures))
		for i, f := range m.Figures {
			figures[i] = strconv.FormatFloat(f, 'f', -1, 64)
		}
		rule := compression.Find(m.Rule)
		return fmt.Sprintf("Compression %s psi. %s Rule: %s (%s).", strings.Join(figures, ", "),
			compression.Judge(m.Figures, rule), rule.Title, rule.Source)
	case store.MeasureGearLube:
		return "Gear lube " + m.Words + "."
	case store.MeasureBattery:
		if len(m.Figures) > 0 {
			return strconv.FormatFloat(m.Figures[0], 'f', -1, 64) + " V at rest."
		}
	}
	return m.Words
}

// fillPeople reads the owners, and mails and calls to the present one.
func (s pages) fillPeople(r *http.Request, p *boatPage, id string) (err error) {
	ctx, db := r.Context(), s.App.DB
	if p.Owner, err = s.App.OwnerOf(ctx, id); err != nil {
		return err
	}
	if p.Owners, err = s.owners(ctx, id); err != nil || p.Owner.ID == "" {
		return err
	}
	if p.Messages, err = outbox.Messages(ctx, db, outbox.MessageQuery{CustomerID: p.Owner.ID, Limit: 10}); err != nil {
		return err
	}
	if p.Calls, err = db.CallsTo(ctx, p.Owner.ID, 10); err != nil {
		return err
	}
	return s.fillReplies(ctx, p, id)
}

// fillReplies reads what the owner answered on their page: whoever looks at the
// boat must not offer what the owner has declined.
func (s pages) fillReplies(ctx context.Context, p *boatPage, id string) error {
	all, err := s.App.DB.Answers(ctx, []string{p.Owner.ID})
	if err != nil {
		return err
	}
	for _, a := range all[p.Owner.ID] {
		switch {
		case a.BoatID != id && (a.BoatID != "" || a.VisitID != ""), a.Kind == schedule.AnswerCall && a.Seen, a.Kind == schedule.AnswerTake:
			continue
		}
		row := s.AnswerRow(&store.OpenAnswer{Answer: a, Boat: p.View.Boat, Customer: p.Owner})
		if a.VisitID == "" {
			p.Replies = append(p.Replies, row)
		} else {
			p.replies = append(p.replies, row)
		}
	}
	return nil
}

// revokeFeed makes the boat's calendar address stop working and gives it a new
// one.
func (s pages) revokeFeed(r *http.Request) (site.Response, error) {
	id := r.PathValue("id")
	a := site.Response{To: "/boats/" + url.PathEscape(id) + "#calendar", Note: "The old calendar address no longer works. Give the owner the new one."}
	feed, err := s.App.FeedURL(r.Context(), link.ScopeBoat, id)
	if err != nil || r.PostFormValue("seen") != site.Seen(feed) { // pressed twice
		return a, err
	}
	return a, s.App.RevokeFeed(r.Context(), s.Now(), site.Actor(r), link.ScopeBoat, id)
}

// winterWork notes whether the owner agrees to work in the winter.
func (s pages) winterWork(r *http.Request) (site.Response, error) {
	id, agrees := r.PathValue("id"), r.PostFormValue("agrees") == "yes"
	did, err := s.App.SetWinterWork(r.Context(), s.Now(), site.Actor(r), id, agrees)
	if err != nil {
		return site.Response{}, err
	}
	note := "What can be done cold is planned for the winter."
	if !agrees {
		note = "No work is planned for the winter."
	}
	return site.Response{To: "/boats/" + url.PathEscape(id) + "#winter", Note: s.Also(note, &did)}, nil
}

// ownerThen is somebody who has or had the boat, "the shop" among them.
type ownerThen struct {
	Name     string
	From, To civil.Day
}

// owners lists a boat's owners by name, the present one last.
func (s pages) owners(ctx context.Context, boatID string) ([]ownerThen, error) {
	all, err := s.App.DB.Ownerships(ctx, boatID)
	if err != nil {
		return nil, err
	}
	out := make([]ownerThen, len(all))
	for i, o := range all {
		out[i] = ownerThen{Name: "the shop", From: o.From, To: o.To}
		if o.CustomerID == "" {
			continue
		}
		c, err := s.App.DB.Customer(ctx, o.CustomerID)
		if err != nil {
			return nil, err
		}
		out[i].Name = c.Name
	}
	return out, nil
}
