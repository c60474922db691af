package customer

import (
	"net/http"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
)

// readMeters reads the figures that a customer gives for a boat's meters, each
// in a field "h-COMPONENT"; a field left empty is no reading. A figure that
// cannot be right is refused with the one that it contradicts; changed is a sentence
// that says what to do if the meter is another one.
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
			quoted := strconv.Quote(text)
			return nil, site.At("h-"+m.Component.ID, s.Say("page_wrong.figure", "text", quoted[1:len(quoted)-1], "example", s.Format().Hours(1885)))
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
	figures := []string{"was", s.Format().Hours(m.LastHours), "date", s.Format().Date(m.LastDay), "hours", s.Format().Hours(h)}
	switch passed := int(day - m.LastDay); {
	case passed >= 0 && h < m.LastHours:
		return s.Say("page_wrong.meter_back", figures...) + " " + changed
	case passed >= 0 && h > m.LastHours+schedule.Hours((passed+1)*240):
		return s.Say("page_wrong.meter_far", figures...)
	case passed < 0 && h > m.LastHours:
		return s.Say("page_wrong.meter_before", figures...)
	}
	return ""
}
