package message

import (
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/schedule/civil"
)

//go:embed texts/en.toml
var englishTexts []byte

// Texts are the words of the mails in one language.
type Texts struct {
	phrases     map[string]string
	months      [12]string
	monthsShort [12]string
	weekdays    [7]string // their short names, Sunday first
}

// English returns the built-in words.
func English() (*Texts, error) {
	return readTexts(englishTexts)
}

// ParseTexts reads a further language or a shop's own phrases. A key that the
// file leaves out keeps its English words; a key that English does not have,
// and a word in braces that nothing fills, are errors. All come at once.
func ParseTexts(name string, data []byte) (*Texts, error) {
	t, err := English()
	if err != nil {
		return nil, err
	}
	own, err := readTexts(data)
	if err != nil {
		return nil, fmt.Errorf("texts %q: %w", name, err)
	}
	var faults []error
	for _, key := range slices.Sorted(maps.Keys(own.phrases)) {
		english, ok := t.phrases[key]
		if !ok {
			faults = append(faults, fmt.Errorf("texts %q: %s: no such phrase; the keys are those of the English file", name, key))
			continue
		}
		for _, hole := range holes.FindAllString(own.phrases[key], -1) {
			if !strings.Contains(english, hole) {
				faults = append(faults, fmt.Errorf("texts %q: %s: nothing fills %s; the English phrase is %q", name, key, hole, english))
			}
		}
		t.phrases[key] = own.phrases[key]
	}
	if own.months[0] != "" {
		t.months = own.months
	}
	if own.monthsShort[0] != "" {
		t.monthsShort = own.monthsShort
	}
	if own.weekdays[0] != "" {
		t.weekdays = own.weekdays
	}
	return t, errors.Join(faults...)
}

// holes finds the words in braces.
var holes = regexp.MustCompile(`\{[a-z]+\}`)

// readTexts flattens a file's tables into dotted keys.
func readTexts(data []byte) (*Texts, error) {
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		return nil, err
	}
	t := &Texts{phrases: make(map[string]string)}
	if err := t.flatten("", tree); err != nil {
		return nil, err
	}
	return t, nil
}

func (t *Texts) flatten(prefix string, tree map[string]any) error {
	for key, v := range tree {
		key = prefix + key
		switch v := v.(type) {
		case string:
			t.phrases[key] = v
		case map[string]any:
			if err := t.flatten(key+".", v); err != nil {
				return err
			}
		case []any:
			if err := t.names(key, v); err != nil {
				return err
			}
		default:
			return fmt.Errorf("%s: want a text, have %v", key, v)
		}
	}
	return nil
}

// names reads the lists of the months' and weekdays' names.
func (t *Texts) names(key string, list []any) error {
	var into []string
	switch key {
	case "date.months":
		into = t.months[:]
	case "date.months_short":
		into = t.monthsShort[:]
	case "date.weekdays":
		into = t.weekdays[:]
	default:
		return fmt.Errorf("%s: want a text, not a list", key)
	}
	if len(list) != len(into) {
		return fmt.Errorf("%s: want %d names, have %d", key, len(into), len(list))
	}
	for i, v := range list {
		s, ok := v.(string)
		if !ok || s == "" {
			return fmt.Errorf("%s: name %d is %v, want a text", key, i+1, v)
		}
		into[i] = s
	}
	return nil
}

// say fills a phrase: pairs are the words in braces and what they become.
func (t *Texts) say(key string, pairs ...string) string {
	fill := make([]string, len(pairs))
	for i, s := range pairs {
		if i%2 == 0 {
			s = "{" + s + "}"
		}
		fill[i] = s
	}
	return strings.NewReplacer(fill...).Replace(t.phrases[key])
}

// count fills a phrase that depends on a number, which it gets as {n}.
func (t *Texts) count(key string, n int, pairs ...string) string {
	form := ".other"
	if n == 1 {
		form = ".one"
	}
	return t.say(key+form, append(pairs, "n", strconv.Itoa(n))...)
}

// day words a day with its year, short without.
func (t *Texts) day(d civil.Day) string { return t.date("date.full", d) }

func (t *Texts) short(d civil.Day) string { return t.date("date.short", d) }

func (t *Texts) date(key string, d civil.Day) string {
	y, m, day := d.Date()
	return t.say(key, "day", strconv.Itoa(day), "month", t.months[m-1], "mon", t.monthsShort[m-1], "year", strconv.Itoa(y))
}

// clock words a minute of the day: "9:00 am".
func (t *Texts) clock(minute int) string {
	half := "date.morning"
	if minute >= 12*60 {
		half = "date.afternoon"
	}
	return t.say("date.clock", "hour", strconv.Itoa((minute/60+11)%12+1), "minute", fmt.Sprintf("%02d", minute%60), "half", t.say(half))
}

// list joins names: "Heron, Wren and Tern".
func (t *Texts) list(names []string) string {
	if len(names) == 0 {
		return ""
	}
	s := names[0]
	for i, n := range names[1:] {
		key := "join.comma"
		if i == len(names)-2 {
			key = "join.and"
		}
		s = t.say(key, "a", s, "b", n)
	}
	return s
}
