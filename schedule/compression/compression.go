// Package compression judges a compression test: pressures by cylinder against
// the rule that somebody chose for the engine.
//
// There is no universal limit: makers print a largest difference, a largest
// spread or a smallest share, and some a least pressure, and they contradict
// each other. So this package works the figures out, compares them with one
// named rule and says from where that rule is. It never says what is wrong with
// an engine: a low cylinder is a reason for a technician to look further, with
// the maker's manual beside it. Pressures are in psi, of one test, all taken the
// same way (engine warm or cold as the maker says, throttle open, same strokes).
//
// It is a leaf: plain numbers go in. The page on which work is recorded calls
// it.
package compression

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Rule is one way to judge; what is 0 is not asked.
type Rule struct {
	Code  string
	Title string
	// MostDifference is the largest difference between two cylinders, in psi.
	MostDifference float64
	// MostSpread is the largest (highest-lowest)/highest, in percent; above
	// NoteSpread it is worth a note.
	MostSpread, NoteSpread float64
	// LeastShare is the least lowest/highest, in percent.
	LeastShare float64
	// LeastPressure is the lowest pressure that any cylinder may have, in psi.
	LeastPressure float64
	Source        string
}

// Rules are the rules to choose from; the first is for an engine whose maker's
// limit nobody has looked up.
func Rules() []Rule {
	return []Rule{
		{
			Code: "usual", Title: "Usual: note above 10%, act above 15%", NoteSpread: 10, MostSpread: 15,
			Source: "common practice, no source; the engine maker's own limit comes first",
		},
		{
			Code: "difference-14", Title: "Largest difference 14 psi (100 kPa)", MostDifference: 14,
			Source: "Suzuki DF140WT service manual, page 2-23, and DF50, page 2-28; a guideline by their own words",
		},
		{
			Code: "difference-15", Title: "Largest difference 15 psi", MostDifference: 15,
			Source: "Mercury/Mariner 50 four-stroke service manual, 1995",
		},
		{
			Code: "spread-15", Title: "Within 15%, none below 135 psi", MostSpread: 15, LeastPressure: 135,
			Source: "Mercury 40 FourStroke service manual 90-857046R1, page 1C-18",
		},
		{
			Code: "share-70", Title: "Lowest at least 70% of highest, none below 100 psi", LeastShare: 70, LeastPressure: 100,
			Source: "MerCruiser gasoline service manual, compression test",
		},
	}
}

// Find returns the rule of that code, the usual one for a code nobody knows.
func Find(code string) Rule {
	all := Rules()
	if i := slices.IndexFunc(all, func(r Rule) bool { return r.Code == code }); i >= 0 {
		return all[i]
	}
	return all[0]
}

// Grade is how a test came out.
type Grade int

// The grades, from good to bad.
const (
	Good Grade = iota
	Note       // within the limit, worth watching
	Act        // beyond a limit: a technician looks further
)

// Verdict is a judged test.
type Verdict struct {
	Grade            Grade
	Lowest, Highest  float64 // psi
	LowestAt         int     // cylinder, from 1
	Difference       float64 // psi
	Spread, Share    float64 // percent of the highest
	Reasons          []string
	Rule             Rule
	CylindersCounted int
}

// tolerance keeps a figure that is exactly at its limit from failing by the
// rounding of binary fractions.
const tolerance = 1e-9

// Judge compares pressures with a rule. Without pressures there is nothing to
// say: the verdict is Good and counts no cylinder.
func Judge(psi []float64, r Rule) Verdict {
	v := Verdict{Rule: r, CylindersCounted: len(psi)}
	if len(psi) == 0 {
		return v
	}
	v.Lowest, v.Highest = slices.Min(psi), slices.Max(psi)
	v.LowestAt = slices.Index(psi, v.Lowest) + 1
	v.Difference = v.Highest - v.Lowest
	if v.Highest > 0 {
		v.Spread, v.Share = 100*v.Difference/v.Highest, 100*v.Lowest/v.Highest
	}
	v.weigh(v.Highest == 0, Act, "no cylinder has any pressure (%s psi of more than %s)", 0, 0)
	v.weigh(r.MostDifference > 0 && v.Difference > r.MostDifference+tolerance, Act,
		"the difference is %s psi, the limit %s", v.Difference, r.MostDifference)
	v.weigh(r.MostSpread > 0 && v.Spread > r.MostSpread+tolerance, Act,
		"the spread is %s%%, the limit %s%%", v.Spread, r.MostSpread)
	v.weigh(r.LeastShare > 0 && v.Share < r.LeastShare-tolerance, Act,
		"the lowest is %s%% of the highest, the minimum is %s%%", v.Share, r.LeastShare)
	v.weigh(r.LeastPressure > 0 && v.Lowest < r.LeastPressure-tolerance, Act,
		"the lowest is %s psi, the minimum is %s", v.Lowest, r.LeastPressure)
	v.weigh(v.Grade == Good && r.NoteSpread > 0 && v.Spread > r.NoteSpread+tolerance, Note,
		"the spread is %s%%, worth watching above %s%%", v.Spread, r.NoteSpread)
	return v
}

// weigh adds a reason if it holds.
func (v *Verdict) weigh(holds bool, g Grade, format string, figure, limit float64) {
	if !holds {
		return
	}
	v.Grade = max(v.Grade, g)
	v.Reasons = append(v.Reasons, fmt.Sprintf(format, figureWords(figure), figureWords(limit)))
}

// String words the verdict in one or two sentences.
func (v Verdict) String() string {
	if v.CylindersCounted == 0 {
		return "Nothing was measured."
	}
	s := fmt.Sprintf("%s to %s psi, spread %s%%", figureWords(v.Lowest), figureWords(v.Highest), figureWords(v.Spread))
	switch v.Grade {
	case Good:
		return s + ": within the rule."
	case Note:
		return s + ": " + strings.Join(v.Reasons, "; ") + "."
	}
	return fmt.Sprintf("%s: beyond the rule, %s. Lowest is cylinder %d; a technician looks further.", s, strings.Join(v.Reasons, "; "), v.LowestAt)
}

// figureWords writes a figure with at most one decimal.
func figureWords(f float64) string {
	return strconv.FormatFloat(math.Round(f*10)/10, 'f', -1, 64)
}

const (
	mostCylinders = 16
	mostPsi       = 1000
)

// Parse reads pressures by cylinder as they are written on a sheet: "150 148
// 152.5 149", with spaces, commas, semicolons or slashes between them. The
// empty text is no pressures.
func Parse(s string) ([]float64, error) {
	fields := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" ,;/\t\n\r", r) })
	if len(fields) > mostCylinders {
		return nil, fmt.Errorf("compression %q: %d figures; want one for each cylinder, at most %d", s, len(fields), mostCylinders)
	}
	var psi []float64
	for _, f := range fields {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil || math.IsNaN(v) || v < 0 || v > mostPsi {
			return nil, fmt.Errorf("compression %q: want a pressure in psi from 0 to %d, for example 150", f, mostPsi)
		}
		psi = append(psi, v)
	}
	return psi, nil
}
