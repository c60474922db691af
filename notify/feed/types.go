package feed

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// icsProp is a property that a component of a feed may hold.
type icsProp struct {
	name string
	must bool
	fits func(icsLine) bool // the value and the parameters are of its type
}

// icsProps is what each component of a feed may hold.
var icsProps = map[string][]icsProp{
	"VCALENDAR": {
		{"PRODID", true, icsIsText}, {"VERSION", true, icsIsWord("2.0")}, {"CALSCALE", false, icsIsWord("GREGORIAN")},
		{"NAME", false, icsIsText}, {"X-WR-CALNAME", false, icsIsText},
		{"DESCRIPTION", false, icsIsText}, {"X-WR-CALDESC", false, icsIsText},
		{"URL", false, icsIsAddress}, {"SOURCE", false, icsWith("VALUE=URI", icsIsAddress)},
		{"REFRESH-INTERVAL", false, icsWith("VALUE=DURATION", icsIsDuration)}, {"X-PUBLISHED-TTL", false, icsIsDuration},
	},
	"VEVENT": {
		{"UID", true, icsIsText}, {"DTSTAMP", true, icsIsInstant}, {"LAST-MODIFIED", true, icsIsInstant}, {"SEQUENCE", true, icsIsCount},
		{"DTSTART", true, icsIsTime}, {"DTEND", true, icsIsTime},
		{"SUMMARY", true, icsIsText}, {"DESCRIPTION", false, icsIsText}, {"LOCATION", false, icsIsText},
		{"CATEGORIES", false, icsIsTexts}, {"URL", false, icsIsAddress},
		{"STATUS", true, icsIsWord("CONFIRMED", "TENTATIVE")}, {"TRANSP", true, icsIsWord("OPAQUE", "TRANSPARENT")},
		{"X-MICROSOFT-CDO-BUSYSTATUS", false, icsIsWord("FREE")},
	},
	"VALARM": {{"ACTION", true, icsIsWord("DISPLAY")}, {"DESCRIPTION", true, icsIsText}, {"TRIGGER", true, icsIsLead}},
}

// icsWith asks for a parameter, and for the rest what fits asks of a bare value.
func icsWith(params string, fits func(icsLine) bool) func(icsLine) bool {
	return func(l icsLine) bool {
		had := l.params
		l.params = ""
		return had == params && fits(l)
	}
}

func icsIsWord(words ...string) func(icsLine) bool {
	return func(l icsLine) bool { return l.params == "" && slices.Contains(words, l.value) }
}

func icsIsAddress(l icsLine) bool {
	s, err := webAddress(l.value)
	return err == nil && l.params == "" && s == l.value
}

func icsIsInstant(l icsLine) bool { return l.params == "" && icsIsStamp(l.value, "20060102T150405Z") }

// icsIsTime takes a day or an instant in UTC, and no local time.
func icsIsTime(l icsLine) bool {
	return icsIsInstant(l) || l.params == "VALUE=DATE" && icsIsStamp(l.value, "20060102")
}

func icsIsStamp(value, layout string) bool {
	t, err := time.Parse(layout, value)
	return err == nil && t.Format(layout) == value
}

func icsIsCount(l icsLine) bool {
	n, err := strconv.ParseUint(l.value, 10, 31)
	return err == nil && l.params == "" && strconv.FormatUint(n, 10) == l.value
}

// icsIsDuration takes the forms that icsDuration writes.
func icsIsDuration(l icsLine) bool {
	value, ok := strings.CutPrefix(l.value, "P")
	units := "D"
	if rest, clock := strings.CutPrefix(value, "T"); clock {
		value, units = rest, "HMS"
	}
	if !ok || l.params != "" || len(value) < 2 || !strings.Contains(units, value[len(value)-1:]) {
		return false
	}
	n, err := strconv.ParseUint(value[:len(value)-1], 10, 31)
	return err == nil && n > 0
}

// icsIsLead takes a time before the start.
func icsIsLead(l icsLine) bool {
	value, before := strings.CutPrefix(l.value, "-")
	l.value = value
	return before && icsIsDuration(l)
}

func icsIsText(l icsLine) bool  { return l.params == "" && icsEscaped(l.value, `\;,`) }
func icsIsTexts(l icsLine) bool { return l.params == "" && icsEscaped(l.value, `\;`) }

// icsEscaped reports whether a text is there and escaped as RFC 5545 3.3.11 has
// it: special characters only after a backslash, and a backslash only before
// one of its four.
func icsEscaped(value, special string) bool {
	for i := 0; i < len(value); i++ {
		if value[i] == '\\' {
			if i++; i == len(value) || !strings.ContainsRune(`\;,nN`, rune(value[i])) {
				return false
			}
		} else if strings.IndexByte(special, value[i]) >= 0 {
			return false
		}
	}
	return value != ""
}
