package site

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// The change history keeps facts as JSON, as the program has them: tenths of hours,
// cents, minutes, codes. Here they become what people read.

// did are what was done, as somebody did it. What is not here is said as it is
// kept.
var did = map[string]string{
	"add an absence": "gave time off", "book": "moved the booking", "call note": "noted a call", "cancel a booking": "canceled the booking",
	"change the owner": "changed the owner", "choose a week": "chose a week", "choose emails": "chose emails", "close a day": "closed the shop",
	"email came back": "an email came back", "erase a customer": "erased a customer", "follow up": "noted a job to follow up",
	"forget a climate": "forgot a climate", "handle a reply": "handled a reply", "import": "imported files", "keep the booked day": "kept the booked day",
	"let a week go": "let the week go that was kept when the owner asked for later, as it comes after the deadline", "load a climate": "loaded a climate", "measure": "measured", "merge": "merged two", "note on the boat": "changed the note",
	"note what the customer said": "noted what the customer said", "open a day": "opened the shop", "override a rule": "changed a rule for this boat",
	"order a part": "ordered", "receive a part": "received an order", "take back a receipt": "took back that an order was received", "cancel an order": "took an order back", "put on the call list": "put on the call list", "read a meter": "read the hour meter", "record work": "recorded work", "reminded": "reminded by email",
	"remove a follow-up": "dropped a job", "remove a measurement": "took a measurement back", "remove a reading": "took a reading back",
	"remove a record": "took recorded work back", "remove an absence": "took time off back", "remove an override": "put a rule back to the catalog's",
	"remove staff": "removed an account", "renew the key of the links": "renewed the key of the links", "revoke the boat feed": "made the boat's calendar address new",
	"revoke the customer feed": "made the customer's link new", "revoke the desk feed": "made the desk's calendar address new", "reply": "replied", "retire a component": "retired a part", "said it is right": "said that it is right",
	"save a boat": "changed the boat", "save a component": "changed a part", "save a customer": "changed the customer", "save settings": "changed settings", "save staff": "saved an account",
	"send to a sister shop": "sent to a sister shop", "take over from a sister shop": "took over from a sister shop", "send an email again": "sent an email again", "sign in": "signed in", "sign out everywhere": "signed out everywhere",
	"switch sending": "switched sending", "take a merge back": "took a merge back", "take back a call": "took a call back", "take over from another machine": "took over from another machine", "take refused addresses for dead": "took refused addresses for dead",
	"take back that a component is retired": "took back that a part is retired", "take back the change of owner": "took the change of owner back",
	"tell apart": "noted that two are not duplicates", "tell apart no more": "took back that two are not duplicates", "the day": "on the day", "undo a reply": "took a reply back", "unlock staff": "unlocked an account", "use an address again": "used an address again", "use refused addresses again": "used refused addresses again",
}

// added are what was done where nothing was before.
var added = map[string]string{"save a boat": "added the boat", "save a component": "added a part", "save a customer": "added the customer", "book": "booked"}

// fields are what the fields of facts are called, where their own names are not
// words; "" for those that say nothing to a reader.
var fields = map[string]string{
	"ID": "", "BoatID": "", "CustomerID": "", "VisitID": "", "visit": "", "HasHours": "", "Subject": "", "Code": "", "Field": "", "form": "", "Probe At": "", "ProbeAt": "",
	"At": "", "ComponentID": "on", "By": "done by", "ReadBy": "read by", "Labour": "hours of work", "LengthFt": "length in feet", "HIN": "HIN",
	"Minute": "at", "Over": "although the week was full", "InService": "in service since", "Gone": "inactive since", "SoldOn": "sold on",
	"Since": "since", "Words": "", "name": "", "Attr": "", "HeldWhy": "on hold because", "PausedWhy": "paused because", "On": "on", "Called": "", "Seen": "seen to",
	"InDoubt": "may not have arrived", "Duty": "duty factor", "Berth": "kept",
}

// codes are the values of fields that have words of their own.
var codes = map[string]string{
	"shop": "", "elsewhere": "somebody else", "before-sale": "us, before the sale", "own-dock": "at the owner's dock", "own-lift": "on the owner's lift",
	"trailer-home": "on its trailer at home", "shop-heated": "in our heated storage", "shop-inside": "in our storage, inside", "shop-outside": "in our storage, outside",
	"lay-up": "winterization", "fit-out": "spring commissioning", "extra": "service visit", "winter": "winter work", "waiting": "waiting for parts",
	"picked-up": "picked up", "first-reminder": "first reminder", "second-reminder": "second reminder", "final-reminder": "final reminder", "overdue-notice": "overdue notice",
}

var (
	isDay    = regexp.MustCompile(`^\d{4}-\d\d-\d\d$`)
	isWeek   = regexp.MustCompile(`^\d{4}-W\d\d$`)
	isMoment = regexp.MustCompile(`^\d{4}-\d\d-\d\dT`)
)

// factWords are the fields of a fact, written as JSON, by name and in words.
func (s *Site) factWords(text string, parts map[string]string) map[string]string {
	var v any
	if text == "" || json.Unmarshal([]byte(text), &v) != nil {
		return nil
	}
	out := make(map[string]string)
	s.addWords(out, "", v, parts)
	return out
}

// addWords takes what stands under a name apart; lists and what is inside are one
// value each.
func (s *Site) addWords(out map[string]string, key string, v any, parts map[string]string) {
	switch v := v.(type) {
	case map[string]any:
		for k, inner := range v {
			if name, known := fields[k]; !known || name != "" || k == "Words" || k == "name" {
				s.addWords(out, k, inner, parts)
			}
		}
	case []any:
		var all []string
		for _, inner := range v {
			one := make(map[string]string)
			s.addWords(one, key, inner, parts)
			all = append(all, strings.Join(lines(one), ", "))
		}
		if len(all) > 0 {
			out[key] = strings.Join(all, "; ")
		}
	default:
		if w := s.valueWords(key, v, parts); w != "" {
			out[key] = w
		}
	}
}

// valueWords words one value by the name of its field; "" for nothing.
func (s *Site) valueWords(key string, v any, parts map[string]string) string {
	switch v := v.(type) {
	case bool:
		if v {
			return "yes"
		}
		return ""
	case float64:
		return s.numberWords(key, v)
	case string:
		return s.textWords(key, v, parts)
	}
	return ""
}

func (s *Site) numberWords(key string, v float64) string {
	switch {
	case key == "Minute" && v < 0:
		return "any hour"
	case key == "Minute":
		return s.Format().Clock(int(v))
	case v == 0:
		return ""
	case key == "Amount" || key == "Price" || key == "Cost":
		return s.money(schedule.Cents(v))
	case key == "Hours" || key == "Threshold":
		return s.Format().Hours(schedule.Hours(v)) + " h"
	case key == "Labour":
		return s.Format().Labor(int(v)) + " h"
	}
	return s.Format().Number(v, 2)
}

func (s *Site) textWords(key, v string, parts map[string]string) string {
	switch {
	case key == "ComponentID" || key == "Part":
		return parts[v]
	case key == "Service" || key == "Rule":
		cat := s.App.Planner.Catalogue()
		if r, ok := cat.Rule(v); ok && key == "Rule" {
			return r.Title
		}
		return cat.ServiceTitle(v)
	case key == "Language":
		return texts.EnglishName(v)
	case key == "outcome" || key == "Outcome":
		return OutcomeName(v)
	case isDay.MatchString(v):
		if d, err := civil.Parse(v); err == nil {
			return s.Format().Date(d)
		}
	case isWeek.MatchString(v):
		if w, err := civil.ParseWeek(v); err == nil {
			return "the week of " + s.Format().Date(w.Monday())
		}
	case isMoment.MatchString(v):
		t, err := time.Parse(time.RFC3339, v)
		if err != nil || t.Year() < 2 {
			return ""
		}
		return s.Format().Date(s.DayOf(t))
	}
	if w, ok := codes[v]; ok {
		return w
	}
	return words.OneLine(v)
}

// leads are the fields whose values need no name, in the order in which they are
// read; "" is a fact that is one value.
var leads = []string{"", "name", "Name", "Title", "Service", "Rule", "Kind", "Step", "Stage", "Technician", "Make", "Model", "ComponentID", "outcome", "Day", "day",
	"Hours", "Amount", "Words", "Finding", "Note", "note"}

// lines are the fields of a fact, a text each: first what needs no name.
func lines(fact map[string]string) []string {
	var out []string
	for _, key := range leads {
		if w := fact[key]; w != "" {
			out = append(out, w)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(fact)) {
		if !slices.Contains(leads, key) {
			out = append(out, fieldName(key)+": "+fact[key])
		}
	}
	return out
}

// differences words what a change changed: of what is new or gone all that it says,
// else what is different now.
func (s *Site) differences(before, after string, parts map[string]string) []string {
	was, is := s.factWords(before, parts), s.factWords(after, parts)
	if is != nil && was["Ordered"] != "" { // of an order nothing else says which one it is
		was = nil
	}
	switch {
	case was == nil:
		return lines(is)
	case is == nil:
		return lines(was)
	}
	all := maps.Clone(was)
	maps.Copy(all, is)
	var out []string
	for _, key := range slices.Sorted(maps.Keys(all)) {
		switch a, b := was[key], is[key]; {
		case a == b:
		case key == "":
			out = append(out, fmt.Sprintf("%s, before: %s", orNothing(b), orNothing(a)))
		default:
			out = append(out, fmt.Sprintf("%s: %s, before: %s", fieldName(key), orNothing(b), orNothing(a)))
		}
	}
	return out
}
