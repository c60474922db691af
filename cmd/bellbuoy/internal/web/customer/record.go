package customer

import (
	"cmp"
	"errors"
	"net/http"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// recordPage is a boat's service record, to be printed and shown to whoever buys it.
// It names no owner.
type recordPage struct {
	guest
	Boat   schedule.Boat
	Parts  []recordPart
	Meters []schedule.Outlook
	Days   []recordDay // the newest first
	Prices bool        // the owner wants them on it
	Total  string
	Today  civil.Day
}

// recordPart is an engine, a drive or a generator.
type recordPart struct {
	Name, Label, Family string
	InService           civil.Day
}

// recordDay is what one of them did on one day.
type recordDay struct {
	Day  civil.Day
	By   string
	Jobs []recordJob
}

type recordJob struct {
	Title, Part, Hours string
	Amount             string // only of the owner's own time, and if wanted
}

// serviceRecord shows a boat's record.
func (s pages) serviceRecord(r *http.Request, g guest) (site.Response, error) {
	b, err := s.boatOf(r, g, r.PathValue("boat"))
	if errors.Is(err, store.ErrNotFound) {
		return site.Response{Page: "my-stale.html", Code: http.StatusNotFound, Data: stalePage{
			Title: s.Say("page_gone.record"), Words: s.Say("page_gone.record_why"), Phone: g.Phone, Back: g.At(""),
		}}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	f, err := s.App.Facts(r.Context(), b.ID)
	if err != nil {
		return site.Response{}, err
	}
	p := recordPage{guest: g, Boat: b, Prices: r.FormValue("prices") != "", Today: s.Today(), Meters: s.App.Planner.HoursOutlook(&f, s.Today())}
	p.Meters = slices.DeleteFunc(p.Meters, func(m schedule.Outlook) bool { return m.LastDay == 0 })
	for _, c := range f.Components {
		if c.Kind == "engine" || c.Kind == "drive" || c.Kind == "generator" {
			part := recordPart{Name: s.partName(c.Kind), Label: c.Label, InService: c.InService}
			for _, family := range s.App.Planner.Catalogue().Families {
				if family.Name == c.Attr.Family {
					part.Family = family.TitleIn(s.Language())
				}
			}
			p.Parts = append(p.Parts, part)
		}
	}
	owned, err := s.ownedFrom(r, g, b.ID)
	if err != nil {
		return site.Response{}, err
	}
	var total schedule.Cents
	p.Days, total = s.recordDays(&f, p.Prices, owned)
	if p.Prices {
		p.Total = s.About(total)
	}
	return site.Response{Page: "my-record.html", Data: &p}, nil
}

// partName names a kind of part that a record lists.
func (s pages) partName(kind string) string {
	switch kind {
	case "engine":
		return s.Say("page.engine")
	case "drive":
		return s.Say("page_record.drive")
	}
	return s.Say("page_record.generator")
}

// ownedFrom is the day from which the boat has been the customer's.
func (s pages) ownedFrom(r *http.Request, g guest, boatID string) (civil.Day, error) {
	all, err := s.App.DB.Ownerships(r.Context(), boatID)
	for _, o := range all {
		if o.CustomerID == g.Customer.ID && o.To == 0 {
			return o.From, nil
		}
	}
	return s.Today(), err
}

// recordDays sets out the work on a boat by day. Remarks are the shop's own, and what
// an earlier owner paid is that owner's.
func (s pages) recordDays(f *schedule.Facts, prices bool, from civil.Day) (days []recordDay, total schedule.Cents) {
	names := map[string]string{}
	for i := range f.Components {
		names[f.Components[i].ID] = f.Components[i].Label
	}
	for i := range f.Retired {
		names[f.Retired[i].ID] = f.Retired[i].Label
	}
	records := slices.SortedStableFunc(slices.Values(f.Records), func(a, b schedule.Record) int { return cmp.Or(int(b.Day-a.Day), cmp.Compare(b.By, a.By)) })
	for i := range records {
		rec := &records[i]
		if rec.Service == schedule.ServiceRemark {
			continue
		}
		job := recordJob{Title: s.ServiceTitle(rec.Service), Part: names[rec.ComponentID]}
		by := s.App.Config.Shop.Name
		switch rec.By {
		case schedule.ByElsewhere:
			by = s.Say("page_record.elsewhere")
		case schedule.ByBeforeSale:
			by = s.Say("page_record.before_sale", "shop", by)
		}
		if rec.HasHours {
			job.Hours = s.Format().Hours(rec.Hours)
		}
		if prices && rec.Day >= from && rec.Amount > 0 && rec.By == schedule.ByShop {
			job.Amount = s.About(rec.Amount)
			total += rec.Amount
		}
		if n := len(days); n == 0 || days[n-1].Day != rec.Day || days[n-1].By != by {
			days = append(days, recordDay{Day: rec.Day, By: by})
		}
		d := &days[len(days)-1]
		d.Jobs = append(d.Jobs, job)
	}
	return days, total
}
