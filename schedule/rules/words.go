package rules

import (
	"slices"
	"strconv"
	"strings"
)

// kinds are the components a rule can apply to, with the attributes, beyond
// the boat's own, that such a component carries. Other attributes are free.
var kinds = map[string][]string{
	"engine":       engineKeys,
	"drive":        engineKeys,
	"generator":    engineKeys,
	"trailer":      nil,
	"battery":      nil,
	"extinguisher": nil,
	"flares":       nil,
	"co-alarm":     nil,
	"life-jacket":  nil,
	"registration": nil,
	"hull":         nil,
}

var engineKeys = []string{"propulsion", "stroke", "fuel", "cooling", "family"}

// closed are the attributes whose values form a closed list.
var closed = map[string][]string{
	"propulsion": {"outboard", "sterndrive", "inboard", "jet", "electric"},
	"stroke":     {"two", "four"},
	"fuel":       {"gasoline", "diesel", "electric"},
	"cooling":    {"raw-water", "closed", "air"},
	"water":      {"fresh", "salt"},
	"berth":      {"own-dock", "own-lift", "trailer-home", "shop-heated", "shop-inside", "shop-outside"},
	"battery":    {"flooded", "agm", "lithium"},
	"boat_kind":  {"runabout", "pontoon", "fishing", "cruiser", "tow", "sail", "personal", "other"},
}

// eventServices are the services whose records can ask for work.
var eventServices = []string{"haul-out", "launch", "strike"}

// impossible are pairs of attribute values that no engine has.
var impossible = [][2]pair{
	{{"propulsion", "electric"}, {"fuel", "gasoline"}},
	{{"propulsion", "electric"}, {"fuel", "diesel"}},
	{{"propulsion", "electric"}, {"stroke", "two"}},
	{{"propulsion", "electric"}, {"stroke", "four"}},
	{{"fuel", "electric"}, {"stroke", "two"}},
	{{"fuel", "electric"}, {"stroke", "four"}},
}

type pair struct{ key, value string }

// nearest returns the name that a misspelt one most likely means, "" if none
// is near.
func nearest(word string, names []string) string {
	best, bestDist := "", max(2, len(word)/3)+1
	for _, n := range names {
		if d := distance(word, n); d < bestDist {
			best, bestDist = n, d
		}
	}
	return best
}

// distance is the number of letters to insert, delete or replace to get from
// one word to the other.
func distance(a, b string) int {
	const long = 64 // no name of ours is longer; a longer word is near none
	if len(a) > long || len(b) > long {
		return long
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			step := diagonal
			if a[i] != b[j] {
				step++
			}
			diagonal = row[j+1]
			row[j+1] = min(step, row[j]+1, diagonal+1)
		}
	}
	return row[len(b)]
}

// quoted lists names for a message, rising.
func quoted(names []string) string {
	sorted := slices.Clone(names)
	slices.Sort(sorted)
	for i, n := range sorted {
		sorted[i] = strconv.Quote(n)
	}
	return strings.Join(slices.Compact(sorted), ", ")
}

// isCode reports whether s can name a rule, service or family: small letters,
// digits and single hyphens, starting with a letter.
func isCode(s string) bool {
	if s == "" || len(s) > 60 || s[0] < 'a' || s[0] > 'z' || strings.HasSuffix(s, "-") || strings.Contains(s, "--") {
		return false
	}
	return strings.Trim(s, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}
