package imports

import (
	"io"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/tables"
)

// componentLayout lets components.csv carry attributes of its own. The names
// left out are the boat's, or stand in columns of their own.
func componentLayout() layout {
	return layout{
		columns:  []string{"component_id", "boat_id", "kind", "label", "propulsion", "stroke", "fuel", "cooling", "in_service", "expires"},
		optional: []string{"made", "family", "duty"},
		extra:    true,
		notExtra: []string{"water", "berth", "boat_kind", "place", "customer_id"},
	}
}

func (in *intake) components(r io.Reader) error {
	return in.each("components.csv", r, componentLayout(), in.component)
}

func (in *intake) component(l *line) error {
	if in.skipMerged(l, "component_id") {
		return nil
	}
	part := schedule.Component{
		ID: l.id("component_id"), BoatID: l.id("boat_id"), Kind: l.word("kind", schedule.ComponentKinds), Label: l.text("label"),
		InService: l.pastDay("in_service"), Expires: l.day("expires"), Made: l.stamp("made"), Duty: l.whole("duty", 100, 1, 1000),
	}
	part.Attr = schedule.Attr{
		Kind:       part.Kind,
		Propulsion: l.optionalWord("propulsion", l.text("propulsion"), schedule.Propulsions),
		Stroke:     l.optionalWord("stroke", l.text("stroke"), schedule.Strokes),
		Fuel:       l.optionalWord("fuel", l.text("fuel"), schedule.Fuels),
		Cooling:    l.optionalWord("cooling", l.text("cooling"), schedule.Coolings),
		Family:     l.text("family"),
		Extra:      l.extra(),
	}
	if part.Kind == "hull" {
		l.fault("kind", "every boat has its hull without a line; take this one out and use the boat's id in the history")
	}
	if err := in.checkComponent(l, part); err != nil {
		return err
	}
	if l.bad {
		in.spoilt["component "+part.ID] = true
		return nil
	}
	done, err := tables.PutComponent(in.ctx, in.tx, part)
	if err != nil {
		return err
	}
	in.report.count(done)
	if done == tables.Unchanged {
		return nil
	}
	return in.touched(part.BoatID)
}

// checkComponent checks the ids: the component's is new or this boat's, and
// the boat is known.
func (in *intake) checkComponent(l *line, part schedule.Component) error {
	before, first, err := in.seen(l.no, "component", part.ID)
	if err != nil {
		return err
	}
	if before > 0 && part.ID != "" {
		l.fault("component_id", "%q is on line %d already; keep one line", part.ID, first)
		return nil
	}
	if in.spoilt["boat "+part.BoatID] {
		l.bad = true
		return nil
	}
	ok, err := in.hasBoat(part.BoatID)
	if err != nil {
		return err
	}
	if !ok && part.BoatID != "" {
		l.fault("boat_id", "no boat %q in boats.csv or the store; add the boat or correct the id", part.BoatID)
	}
	home, err := in.boatOfComponent(part.ID)
	if err != nil {
		return err
	}
	switch {
	case home == "":
	case home == part.ID:
		l.fault("component_id", "%q is the id of a boat; give the component another", part.ID)
	case home != part.BoatID:
		l.fault("boat_id", "component %q belongs to boat %q; its history stays there, give it a new id on boat %q", part.ID, home, part.BoatID)
	}
	return nil
}

// extra collects the further columns in canonical form: "brakes=disc;tyres=two".
func (l *line) extra() string {
	own := componentLayout()
	var pairs []string
	for _, col := range l.header {
		if slices.Contains(own.columns, col) || slices.Contains(own.optional, col) {
			continue
		}
		v := l.text(col)
		if strings.ContainsAny(v, ";=\n") {
			l.fault(col, "%q holds a semicolon, an equals sign or a line end; an attribute has none", v)
		}
		if v != "" {
			pairs = append(pairs, col+"="+v)
		}
	}
	slices.Sort(pairs)
	return strings.Join(pairs, ";")
}
