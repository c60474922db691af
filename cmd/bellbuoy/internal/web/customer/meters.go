package customer

import (
	"fmt"
	"net/http"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
)

// readMeters reads the figures that a customer gives for a boat's meters, each
// in a field "h-COMPONENT"; a field left empty is no reading. A figure that
// cannot be right is refused with the one that it contradicts; changed says what to do
// if the meter is another one.
func (s pages) readMeters(r *http.Request, meters []schedule.Outlook, day civil.Day, changed string) ([]schedule.Reading, error) {
	var all []schedule.Reading
	for i := range meters {
		m := &meters[i]
		text := strings.TrimSpace(r.FormValue("h-" + m.Component.ID))
		if text == "" {
			continue
		}
		h, err := measure.ParseHours(strings.TrimSuffix(strings.TrimSuffix(text, "h"), " "))
		if err != nil {
			return nil, site.At("h-"+m.Component.ID, fmt.Sprintf("%q could not be read. Please enter what the meter shows, for example 188.5.", text))
		}
		if why := s.unlikely(m, h, day, changed); why != "" {
			return nil, site.At("h-"+m.Component.ID, why)
		}
		all = append(all, schedule.Reading{ComponentID: m.Component.ID, Day: day, Hours: h, ReadBy: "customer"})
	}
	return all, nil
}

// unlikely says why a figure cannot be right beside the last one on file, ""
// if it can.
func (s pages) unlikely(m *schedule.Outlook, h schedule.Hours, day civil.Day, changed string) string {
	if m.LastDay == 0 {
		return ""
	}
	switch passed := int(day - m.LastDay); {
	case passed >= 0 && h < m.LastHours:
		return fmt.Sprintf("The meter showed %s h on %s, so it cannot show %s h later. Please look again. If the meter was changed, %s.",
			s.Format().Hours(m.LastHours), s.Format().Date(m.LastDay), s.Format().Hours(h), changed)
	case passed >= 0 && h > m.LastHours+schedule.Hours((passed+1)*240):
		return fmt.Sprintf("The meter showed %s h on %s. %s h is more than there were hours since. Please look again: is a decimal point missing?",
			s.Format().Hours(m.LastHours), s.Format().Date(m.LastDay), s.Format().Hours(h))
	case passed < 0 && h > m.LastHours:
		return fmt.Sprintf("The meter showed %s h later, on %s, so it cannot have shown %s h before. Please look at the figure and the day again.",
			s.Format().Hours(m.LastHours), s.Format().Date(m.LastDay), s.Format().Hours(h))
	}
	return ""
}
