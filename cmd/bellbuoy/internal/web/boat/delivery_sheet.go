package boat

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/boombuler/barcode/qr"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// handOverPage is the printed sheet that goes with a boat to its owner.
type handOverPage struct {
	Boat  schedule.Boat
	Owner schedule.Customer
	// HandedOver says when, by whom and to whom.
	HandedOver string
	Place      schedule.Place
	Done       []handOverDone
	Meters     []schedule.Outlook
	Visits     []schedule.VisitView
	Yours      []schedule.Line
	Cautions   []string
	Code       *qrCode // opens the owner's page on subscribing, nil without an owner
	Link       string
	Phone      string
	Address    string
	CanMail    bool // the welcome mail may still be sent
}

// handOverDone is the work of one day before the sale.
type handOverDone struct {
	Day   civil.Day
	Jobs  []string
	Notes []string
}

// mostHandOver is how many visits to come the sheet has room for.
const mostHandOver = 4

// beforeHandOver is how far back, in days, the sheet looks for work.
const beforeHandOver = 400

func (s pages) handOverSheet(r *http.Request) (site.Response, error) {
	ctx, id := r.Context(), r.PathValue("id")
	owner, err := s.App.OwnerOf(ctx, id)
	if err != nil {
		return site.Response{}, err
	}
	s = pages{s.In(s.App.Language(&owner))}
	view, err := s.App.ViewIn(ctx, id, s.Language())
	if err != nil {
		return site.Response{}, err
	}
	view = view.ForOwner()
	c := s.App.Config.Shop
	p := &handOverPage{Boat: view.Boat, Place: view.Place, Visits: view.Visits[:min(mostHandOver, len(view.Visits))], Phone: c.Phone, Address: c.Address, Owner: owner}
	p.HandedOver = s.handedOver(p)
	for _, l := range view.Loose {
		if l.Item.ByCustomer || l.Item.Basis == schedule.BasisExpiry {
			p.Yours = append(p.Yours, l)
		}
	}
	facts, err := s.App.Facts(ctx, id)
	if err != nil {
		return site.Response{}, err
	}
	p.Meters = s.App.Planner.HoursOutlook(&facts, s.Today())
	if p.Done, err = s.doneBefore(r, &facts); err != nil {
		return site.Response{}, err
	}
	p.Cautions = s.handOverCautions(&facts, view.Place.Freezes())
	if p.Owner.ID != "" {
		err = s.handOverCode(r, p)
	}
	return site.Response{Page: "hand-over.html", Data: p, Language: s.Language()}, err
}

// handedOver says when, by whom and to whom.
func (s pages) handedOver(p *handOverPage) string {
	shop, date := s.App.Config.Shop.Name, s.Format().Date(p.Boat.SoldOn)
	switch sold := p.Boat.SoldOn != 0; {
	case p.Owner.Name != "" && sold:
		return s.Say("delivery.to_on", "owner", p.Owner.Name, "date", date, "shop", shop)
	case p.Owner.Name != "":
		return s.Say("delivery.to", "owner", p.Owner.Name, "shop", shop)
	case sold:
		return s.Say("delivery.on", "date", date, "shop", shop)
	}
	return s.Say("delivery.by", "shop", shop)
}

// handOverCode draws the owner's code and looks whether they were welcomed.
func (s pages) handOverCode(r *http.Request, p *handOverPage) error {
	my, err := s.App.MyURL(r.Context(), p.Owner.ID)
	if err != nil {
		return err
	}
	p.Link = my + "/calendar"
	if p.Code, err = newQRCode(p.Link); err != nil {
		return err
	}
	notified, err := outbox.Notified(r.Context(), s.App.DB, []string{p.Owner.ID})
	p.CanMail = !slices.ContainsFunc(notified[p.Owner.ID], func(h schedule.Notified) bool {
		return h.Step == schedule.StepWelcome && strings.HasPrefix(h.Subject, p.Boat.ID+".")
	})
	return err
}

// doneBefore lists the work of the time before the boat was sold, and what was
// measured.
func (s pages) doneBefore(r *http.Request, f *schedule.Facts) ([]handOverDone, error) {
	until := f.Boat.SoldOn
	if until == 0 {
		until = s.Today()
	}
	fits := func(d civil.Day) bool { return d <= until && d > until-beforeHandOver }
	names := partNames(f)
	byDay := make(map[civil.Day]*handOverDone)
	add := func(d civil.Day, job, note string) {
		if byDay[d] == nil {
			byDay[d] = &handOverDone{Day: d}
		}
		if job != "" {
			byDay[d].Jobs = append(byDay[d].Jobs, job)
		}
		if note != "" {
			byDay[d].Notes = append(byDay[d].Notes, note)
		}
	}
	for i := range f.Records {
		if rec := &f.Records[i]; rec.By != schedule.ByElsewhere && fits(rec.Day) {
			add(rec.Day, s.doneWords(rec, names), rec.Note)
		}
	}
	measured, err := s.App.DB.Measurements(r.Context(), f.Boat.ID)
	for _, m := range measured {
		if fits(m.Day) {
			add(m.Day, s.handOverMeasured(m), m.Words)
		}
	}
	var all []handOverDone
	for _, d := range slices.Sorted(maps.Keys(byDay)) {
		all = append(all, *byDay[d])
	}
	return all, err
}

// doneWords words a record: what, on which part, at how many hours; "" for a
// remark, which is no work.
func (s pages) doneWords(rec *schedule.Record, names map[string]string) string {
	if rec.Service == schedule.ServiceRemark {
		return ""
	}
	w := rec.Title(s.App.Planner.Catalogue())
	if rec.Service != schedule.ServiceOther {
		w = s.ServiceTitle(rec.Service)
	}
	if n := names[rec.ComponentID]; n != "" && rec.ComponentID != rec.BoatID {
		w += ", " + words.LowerFirst(s.PartName(n))
	}
	if rec.HasHours {
		w += ", " + s.Say("page_record.at_hours", "hours", s.Format().Hours(rec.Hours))
	}
	return w
}

// handOverMeasured says to the owner what was measured; the verdict on it is
// for the desk's page.
func (s pages) handOverMeasured(m store.Measurement) string {
	figures := make([]string, len(m.Figures))
	for i, f := range m.Figures {
		figures[i] = s.Format().Number(f, 2)
	}
	list := strings.Join(figures, ", ")
	switch {
	case m.Kind == store.MeasureCompression:
		return s.Say("delivery.compression", "figures", list)
	case m.Kind == store.MeasureBattery && list != "":
		return s.Say("delivery.battery", "figures", list)
	case m.Kind == store.MeasureGearLube:
		return s.Say("delivery.gear_lube")
	}
	return s.Say("delivery.measured", "figures", list)
}

// handOverCautions are what a new owner should know on the first day. Sources:
// blower, 33 CFR 183.610(f), label wording; freeze, common practice; carbon
// monoxide, from memory; cut-off switch, 46 USC 4312; propeller, Hidea F15
// manual, p. 8; swim ladder, common practice; cold water, US Coast Guard cautions
// (1st District, 22 May 2021; tips of 2 February 2017).
func (s pages) handOverCautions(f *schedule.Facts, freezes bool) []string {
	var all []string
	for i := range f.Components {
		if a := &f.Components[i].Attr; a.Fuel == "gasoline" && (a.Propulsion == "sterndrive" || a.Propulsion == "inboard" || a.Propulsion == "jet") {
			all = append(all, s.Say("delivery.caution_blower"))
			break
		}
	}
	all = append(all, s.Say("delivery.caution_monoxide"), s.Say("delivery.caution_propeller"), s.Say("delivery.caution_cold"))
	if freezes {
		all = append(all, s.Say("delivery.caution_freeze"))
	}
	return append(all, s.Say("delivery.caution_manual"))
}

// qrCode is a QR code as the path of an SVG drawing, one unit a module.
type qrCode struct {
	Side int // modules with the quiet margin
	Path string
}

// qrMargin is the quiet zone that ISO/IEC 18004 asks for, in modules.
const qrMargin = 4

// newQRCode draws a text. Level M survives a coffee stain of 15 %.
func newQRCode(text string) (*qrCode, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("QR code of %q: %w", text, err)
	}
	size := code.Bounds()
	var path strings.Builder
	for y := range size.Dy() {
		for x := range size.Dx() {
			if dark, _, _, _ := code.At(x, y).RGBA(); dark == 0 {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x+qrMargin, y+qrMargin)
			}
		}
	}
	return &qrCode{Side: size.Dx() + 2*qrMargin, Path: path.String()}, nil
}
