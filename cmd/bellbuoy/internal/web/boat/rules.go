package boat

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
	"bellbuoy/store"
)

// rulesPage lists the rules that apply to a boat, with what is different on it;
// or asks what one of them should be.
type rulesPage struct {
	Boat  schedule.Boat
	Rows  []ruleRow
	One   *ruleRow // the rule to change, nil for the list
	Ask   bool     // the second question about a matter of safety
	Fault string
}

// ruleRow is a rule on one component.
type ruleRow struct {
	Rule      *rules.Rule
	PartID    string
	Part      string
	Every     string             // the interval that the catalog says, "" for a rule without one
	Override  *schedule.Override // nil for as the catalog says
	Different string             // the same in words
}

func (s pages) rulesForm(r *http.Request) (site.Response, error) {
	p, err := s.rulesPage(r)
	return site.Response{Page: "boat-rules.html", Data: p}, err
}

func (s pages) rulesPage(r *http.Request) (*rulesPage, error) {
	f, err := s.App.Facts(r.Context(), r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	p := &rulesPage{Boat: f.Boat}
	hull := schedule.Component{ID: f.Boat.ID, Kind: "hull", Label: "Hull", Attr: schedule.Attr{Kind: "hull", Water: f.Boat.Water, Berth: f.Boat.Berth, BoatKind: f.Boat.Kind}}
	cat := s.App.Planner.Catalogue()
	for _, c := range append(slices.Clone(f.Components), hull) {
		for i := range cat.Rules {
			if rule := &cat.Rules[i]; rule.Matches(c.Kind, c.Attr.Get) {
				p.Rows = append(p.Rows, row(rule, &c, f.Overrides))
			}
		}
	}
	code, part := r.FormValue("rule"), r.FormValue("component")
	if code == "" {
		return p, nil
	}
	k := slices.IndexFunc(p.Rows, func(x ruleRow) bool { return x.Rule.Code == code && x.PartID == part })
	if k < 0 {
		return nil, site.NotFound("That rule does not apply to this boat. Its list of rules shows those that do.")
	}
	p.One = &p.Rows[k]
	return p, nil
}

// row words a rule on a component.
func row(rule *rules.Rule, c *schedule.Component, all []schedule.Override) ruleRow {
	x := ruleRow{Rule: rule, PartID: c.ID, Part: label(c), Every: everyWords(rule.Every.Months, rule.Every.Hours)}
	for _, part := range []string{"", c.ID} { // one for the component goes before one for the boat
		for i := range all {
			if o := &all[i]; o.Rule == rule.Code && o.ComponentID == part {
				x.Override = o
			}
		}
	}
	if o := x.Override; o != nil {
		switch {
		case o.Skip:
			x.Different = "not on this boat"
		case o.ByCustomer:
			x.Different = "the owner does it"
		default:
			x.Different = everyWords(o.Months, o.Hours)
		}
		if o.Source != "" {
			x.Different += " (" + o.Source + ")"
		}
	}
	return x
}

// everyWords words an interval, "" for none.
func everyWords(months int, hours measure.Hours) string {
	switch {
	case months != 0 && hours != 0:
		return fmt.Sprintf("every %d months or %s h", months, hours)
	case months != 0:
		return fmt.Sprintf("every %d months", months)
	case hours != 0:
		return fmt.Sprintf("every %s h", hours)
	}
	return ""
}

// Harm is what can happen if the rule is missed, in the owner's words.
func (x *ruleRow) Harm() string {
	if x.Rule.OwnerConsequence != "" {
		return x.Rule.OwnerConsequence
	}
	return x.Rule.Consequence
}

func (s pages) changeRule(r *http.Request) (site.Response, error) {
	p, err := s.rulesPage(r)
	if err != nil {
		return site.Response{}, err
	}
	if p.One == nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form lacks the rule it is about. Go back and choose one.")
	}
	o := schedule.Override{BoatID: p.Boat.ID, ComponentID: p.One.PartID, Rule: p.One.Rule.Code}
	if r.PostFormValue("how") != "catalog" {
		err = p.read(r, &o)
	}
	note := p.One.Rule.Title + ": saved."
	switch {
	case err != nil:
	case r.PostFormValue("how") == "catalog":
		note, err = s.asCatalog(r, p)
	case p.One.Override == nil || *p.One.Override != o:
		did, e := s.App.SetOverride(r.Context(), s.Now(), site.Actor(r), o)
		err, note = e, s.Also(note, &did)
	}
	if why, ok := site.Refused(err); ok {
		p.Fault = why.Words()
		return site.Response{Page: "boat-rules.html", Data: p, Refused: why}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/boats/" + url.PathEscape(p.Boat.ID) + "/rules", Note: note}, nil
}

// asCatalog puts the rule back to what the catalog says.
func (s pages) asCatalog(r *http.Request, p *rulesPage) (string, error) {
	note := p.One.Rule.Title + ": as the catalog says."
	if p.One.Override == nil {
		return note, nil
	}
	did, err := s.App.RemoveOverride(r.Context(), s.Now(), site.Actor(r), *p.One.Override)
	if errors.Is(err, store.ErrNotFound) {
		err = nil
	}
	return s.Also(note, &did), err
}

// read reads what is different on this boat. Who is to leave a matter of safety to
// the owner, or out, is asked a second time.
func (p *rulesPage) read(r *http.Request, o *schedule.Override) error {
	o.Source = site.Typed(r, "source")
	switch r.PostFormValue("how") {
	case "manual":
		return p.readInterval(r, o)
	case "owner":
		o.ByCustomer = true
	case "skip":
		o.Skip = true
	default:
		return site.At("how", "Choose what holds on this boat.")
	}
	if p.One.Rule.Safety && r.PostFormValue("sure") == "" {
		p.Ask = true
		return site.At("sure", "This is a matter of safety. Tick this if it is meant.")
	}
	return nil
}

// readInterval reads the interval that this engine's manual says.
func (p *rulesPage) readInterval(r *http.Request, o *schedule.Override) error {
	var err error
	if o.Months, err = number(site.Typed(r, "months"), 1, 1200); err != nil {
		return site.At("months", "The months could not be read; they are a whole number.")
	}
	if t := site.Typed(r, "hours"); t != "" {
		if o.Hours, err = measure.ParseHours(t); err != nil {
			return site.At("hours", "The hours could not be read; they are written like 100.")
		}
	}
	switch {
	case p.One.Every == "":
		return site.At("how", "This rule goes by the season or by a printed day and has no interval to change.")
	case o.Months == 0 && o.Hours == 0:
		return site.At("months", "Give the months or the hours that the manual says.")
	case o.Source == "":
		return site.At("source", "Say where the figure comes from: the manual and its page.")
	}
	return nil
}
