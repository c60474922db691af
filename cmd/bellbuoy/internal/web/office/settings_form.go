package office

import (
	"fmt"
	"math"
	"net/http"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// weekDays are the days of a week as the settings have them.
var weekDays = [7]string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"}

// fieldValue is a value as its form field has it.
func fieldValue(kind config.Kind, v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case bool:
		if v {
			return "1"
		}
		return ""
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		if kind == config.Share {
			v = math.Round(v*1e6) / 1e4
		}
		return site.SettingNumber(v)
	case []any:
		var all []string
		for _, one := range v {
			all = append(all, fieldValue(kind, one))
		}
		return strings.Join(all, "\n")
	}
	return fmt.Sprint(v)
}

// weekFigures are the figures of the seven days, empty ones for no value.
func weekFigures(v any) []dayFigure {
	list, _ := v.([]any)
	out := make([]dayFigure, len(weekDays))
	for i := range out {
		out[i].Day = weekDays[i]
		if i < len(list) {
			out[i].Value = fieldValue(config.Decimal, list[i])
		}
	}
	return out
}

// settingsEdit reads the form of an errand. What a person fixed in the file is not
// read.
func (s pages) settingsEdit(r *http.Request, e errand, c *config.Config) (config.Edit, error) {
	edit := config.Edit{Values: make(map[string]any)}
	if why := c.CanChange(); why != "" {
		return edit, site.At("", why)
	}
	all, err := c.Written()
	if err != nil {
		return edit, err
	}
	w := writtenIn{all, filepath.Base(c.Name())}
	if seenSettings(all, e) != r.PostFormValue("seen") {
		return edit, s.meanwhile(r, e, w)
	}
	var wrong site.Refusals
	for _, of := range config.Settings() {
		if of.Page != e.Name || of.Block != "" || w.fixed(of.Key) != "" {
			continue
		}
		v, fault := readSetting(&of, typedIn(r, &of, of.Key))
		if fault != "" {
			wrong = append(wrong, site.At(firstField(&of, of.Key), of.Title+": "+fault))
		}
		edit.Values[of.Key] = v
	}
	if e.Block != "" {
		list, more := readBlocks(r, e, w)
		wrong = append(wrong, more...)
		edit.Blocks = map[string][]map[string]any{e.Block: list}
	}
	if wrong != nil {
		return edit, wrong
	}
	return edit, nil
}

// meanwhile refuses a form that was made for other values, and says beside each field
// what stands now where that is not what was typed.
func (s pages) meanwhile(r *http.Request, e errand, w writtenIn) error {
	all := site.Refusals{site.At("", "Somebody changed these settings while you had them open, and yours were not saved. What stands now is beside each field; saving again puts yours in its place.")}
	for _, of := range config.Settings() {
		if of.Page != e.Name || of.Block != "" || w.fixed(of.Key) != "" {
			continue
		}
		now := s.settingRow(w, of, of.Key, of.Key)
		stands := []string{now.Value}
		if now.Each != nil {
			stands = nil
			for _, d := range now.Each {
				stands = append(stands, d.Value)
			}
		}
		typed := typedIn(r, &of, of.Key)
		if of.Kind == config.Switch && typed == nil {
			typed = []string{""}
		}
		if !slices.Equal(lineEnds(typed), stands) {
			all = append(all, site.At(firstField(&of, of.Key), "Now: "+emptyAs(now.Words, "nothing")+"."))
		}
	}
	return all
}

// typedIn is what was typed for a setting; a week has a field for each day.
func typedIn(r *http.Request, of *config.Setting, name string) []string {
	if of.Kind != config.WeekHours && of.Kind != config.WeekCounts {
		return r.PostForm[name]
	}
	var all []string
	for _, day := range weekDays {
		all = append(all, r.PostFormValue(name+"."+day))
	}
	return all
}

// firstField is the field of a setting that a message stands beside.
func firstField(of *config.Setting, name string) string {
	if of.Kind == config.WeekHours || of.Kind == config.WeekCounts {
		return name + "." + weekDays[0]
	}
	return name
}

// lineEnds are texts of a form as they were put into it.
func lineEnds(all []string) []string {
	out := slices.Clone(all)
	for i := range out {
		out[i] = strings.TrimRight(strings.ReplaceAll(out[i], "\r\n", "\n"), "\n")
	}
	return out
}

// readBlocks reads all blocks of an errand, as the pages' file is to have them.
func readBlocks(r *http.Request, e errand, w writtenIn) (list []map[string]any, wrong site.Refusals) {
	names, keys := make(map[string]bool), config.Blocks()[e.Block] // by the keys it is the same block
	for i := 0; ; i++ {
		at := fmt.Sprintf("%s.%d.", e.Block, i)
		if !r.PostForm.Has(at + "called") {
			return list, wrong
		}
		name, known := r.PostFormValue(at+"called"), i < len(w.Blocks[e.Block])
		block, own, fixed := make(map[string]any), false, false
		var faults site.Refusals
		for _, of := range config.Settings() {
			if of.Block != e.Block {
				continue
			}
			key := strings.TrimPrefix(of.Key, e.Block+".")
			addr := config.Address(e.Block, name, key)
			if known && w.fixed(addr) != "" {
				fixed = true
				if slices.Contains(keys, key) {
					block[key] = w.Values[addr]
				}
				continue
			}
			v, fault := readSetting(&of, typedIn(r, &of, at+key))
			if fault != "" {
				faults = append(faults, site.At(firstField(&of, at+key), of.Title+": "+fault))
			}
			if v != nil && v != "" && v != int64(0) && v != 0.0 {
				block[key], own = v, own || key == "name" || !slices.Contains(keys, key)
			}
		}
		called := ""
		for _, key := range keys {
			called += fmt.Sprint(block[key], " ")
		}
		if r.PostFormValue(at+"remove") != "" && !fixed || len(faults) == 0 && !own && (fixed || !known) {
			names[called] = names[called] || fixed
			continue
		}
		switch {
		case slices.Contains(keys, "name") && block["name"] == nil:
			faults = append(faults, site.At(at+"name", "Write a name, or tick Remove."))
		case names[called]:
			faults = append(faults, site.At(at+keys[0], "There is one of that name above."))
		}
		names[called] = true
		wrong = append(wrong, faults...)
		list = append(list, block)
	}
}

// readSetting reads what was typed for a setting; nil is nothing.
func readSetting(of *config.Setting, typed []string) (v any, fault string) {
	text := ""
	if len(typed) > 0 {
		text = strings.TrimSpace(typed[0])
	}
	switch of.Kind {
	case config.Prose:
		if text == "" {
			return nil, "" // which takes the built-in sentence
		}
		return words.OneLine(text), ""
	case config.Text:
		return words.OneLine(text), ""
	case config.Switch:
		return text != "", ""
	case config.Whole, config.Decimal, config.Share:
		return readNumber(of, text)
	case config.OneOf:
		if !slices.ContainsFunc(of.Of, func(c config.Choice) bool { return c.Value == text }) {
			return nil, "choose one of the list."
		}
		return text, ""
	case config.Clock:
		return readClock(text)
	case config.MonthDay:
		if text == "" {
			return nil, ""
		}
		md, err := civil.ParseMonthDay(text)
		if err != nil {
			return nil, "write a month and a day, such as 05-15."
		}
		return md.String(), ""
	case config.WeekHours, config.WeekCounts:
		return readWeek(of, typed)
	}
	return readList(of, text)
}

func readNumber(of *config.Setting, text string) (any, string) {
	if text == "" && of.Block != "" {
		return nil, ""
	}
	if of.Kind == config.Whole || of.Kind == config.WeekCounts {
		n, err := strconv.ParseInt(text, 10, 32)
		if err != nil {
			return nil, "write a whole number."
		}
		return n, ""
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, "write a number."
	}
	if of.Kind == config.Share {
		v = math.Round(v*1e4) / 1e6
	}
	return v, ""
}

func readClock(text string) (any, string) {
	if text == "" {
		return "", ""
	}
	t, err := time.Parse("15:04", text)
	if err != nil {
		return nil, "write a time of day, such as 08:00."
	}
	return t.Format("15:04"), ""
}

// readWeek reads seven figures. All empty are nothing; one that is empty is 0.
func readWeek(of *config.Setting, typed []string) (any, string) {
	list, empty := make([]any, len(weekDays)), true
	for i := range list {
		text := ""
		if i < len(typed) {
			text = strings.TrimSpace(typed[i])
		}
		empty = empty && text == ""
		if text == "" {
			text = "0"
		}
		v, fault := readNumber(of, text)
		if fault != "" {
			return nil, weekDays[i] + ": " + fault
		}
		list[i] = v
	}
	if empty {
		return nil, ""
	}
	return list, ""
}

// readList reads what stands one on a line.
func readList(of *config.Setting, text string) (any, string) {
	list := []any{}
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		v := any(line)
		switch of.Kind {
		case config.Days:
			d, err := civil.Parse(line)
			if err != nil {
				return nil, words.OneLine(line) + " is not a day. Write it like 2027-07-05."
			}
			v = d.String()
		case config.Clocks:
			at, fault := readClock(line)
			if fault != "" {
				return nil, fault
			}
			v = at
		}
		list = append(list, v)
	}
	return list, ""
}

// refusedSettings puts what makes no sense beside the field that it is about, if the
// form has it.
func refusedSettings(faults config.Faults) site.Refusals {
	var all site.Refusals
	for _, f := range faults {
		field, said := f.Field, f.Words
		first, _, _ := strings.Cut(said, " ")
		for _, of := range config.Settings() {
			if of.Block != "" || of.Key != field && of.Key != field+"."+first {
				continue
			}
			if _, want, ok := strings.Cut(said, ": want "); ok {
				said = "want " + want
			}
			field, said = firstField(&of, of.Key), of.Title+": "+said
			break
		}
		if field == f.Field && said == f.Words {
			said = f.Field + ": " + said
		}
		all = append(all, site.At(field, words.UpperFirst(said)+"."))
	}
	return all
}

// sample is a text as the formats write it.
type sample struct{ What, Text string }

// samples show what the formats of a form's rows make of a day, a time and amounts.
func (s pages) samples(rows []settingRow) []sample {
	v := make(map[string]string)
	for _, row := range rows {
		v[row.Key] = row.Value
	}
	f, err := words.New(words.Choices{Country: v["shop.country"], Currency: v["shop.currency"], DateOrder: v["formats.date_order"], Clock: v["formats.clock"],
		Decimal: v["formats.decimal_sign"], Temperature: v["formats.temperature"], Length: v["formats.length"], Volume: v["formats.volume"]})
	if err != nil {
		return nil
	}
	day := s.Today()
	return []sample{
		{"A day", f.Date(day)}, {"with its weekday", f.On(f.ShortWeekday(day), f.ShortMonthDay(day))}, {"A time", f.Clock(14*60 + 30)},
		{"An amount", f.Money(schedule.Cents(123450))}, {"Engine hours", f.Hours(schedule.Hours(1885)) + " h"},
		{"A temperature", f.Temperature(-22)}, {"A length", f.Length(21.5)}, {"Oil", f.Quantity(4.5, "l")},
	}
}
