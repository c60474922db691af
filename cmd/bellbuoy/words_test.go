package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/config"
)

// oldWords are words of earlier versions and British spellings that nobody may
// read any more: on a page, in an email, in help, in a setting, a JSON key or a
// measure. A star stands for whatever else the word has.
const oldWords = `
lay-up lay-ups laid-up laidup fit-out fit-outs frost frosts
rung telephone telephones mails mailed pencilled
nudge nudges nudged overdue-mail twins intake rehears* anew
told silent slipped unslipped fetch* invit* letters letter
berth berths labour* tyre* odour* harbour* vapour* colour* neighbour*
level*ling cancelled cancelling travelled fuelled labelled modelled
stabilis* cheque* catalogue* programme* grey greys metre metres litre litres licence* enquir* whilst nought
recognis* organis* realis* utilis* minimis* optimis* winteris* apologis* authoris*
centre centres theatre fibre fibres aluminium mould* plough* kerb* draught* favourite* behaviour* honour*
learnt burnt spelt towards afterwards amongst
`

// oldPhrases are those of more than a word.
const oldPhrases = `
phone round|laid up|last call|by lot|lots? drawn|held back|hand-over|hand over|change of hands|taken in\b|take in\b|
not to be had|did not work|for want of|in our book|no day fixed|to mind|please mind|written down|write it down|
looked at|came back|comes? back|can be sold|sold today|four years in five|got at least to|they are two|ask again|
who changed what|on the shelf|\bring (us|them|him|her|back|whom|the)\b|\d %|gone from our care|\bmail address|by mail\b|fetch mail
`

// allowed are the places where an old word is the right one. What is matched
// is taken out before the words are looked for.
var allowed = []struct{ words, why string }{
	{`[A-Za-z0-9_-]*\.(lay-up|fit-out)\.\d{4}`, "the id of a visit: a code, kept"},
	{`(lay-up|fit-out)(-[a-z-]+)?=|\b[a-z]+(-[a-z]+)*-(lay-up|fit-out)\b|\b(lay-up|fit-out)(-[a-z]+)+\b`, "codes of rules and services"},
	{`"?(lay-up|fit-out)"?(, fit-out or service| or)|bellbuoy (book|record) [A-Z0-9.]+ (lay-up|fit-out)`, "a service's code where a command is given one"},
	{`service: (lay-up|fit-out)|\b(lay-up|fit-out) +(engine|hull) `, "a service's code in a list of codes, or in the words of an address"},
	{`"Kind":"(lay-up|fit-out)"`, "a code in the log of changes, as it was written"},
	{`\bletter_id\b`, "a column, as customer show hands it over"},
	{`"invitation"`, "the setting's word for a calendar invitation, RFC 5546"},
	{`letter of November 2009`, "a maker's letter, named as a source"},
	{`lowest at least|catalogue/`, "a file's name"},
	{`gimbal ring|gimbal-ring|wear ring|O-ring|ring bolts?`, "a part"},
	{`number at risk`, "the name that the survival curve's literature gives it"},
	{`capital letters?|letters and digits|two letters|small letters|look-alike letters|the letter [A-Z%"]`, "letters of the alphabet"},
	{`calendar invitation|an invitation to`, "what RFC 5546 calls it"},
	{`cooling water at the intake`, "the engine's water intake"},
	{`an old alarm stays silent`, "what a dead alarm does"},
	{`bellbuoy [a-z ]*mail bounce|what the mail server said|as the mail host knows it`, "the server and the command, not an email"},
	{`(?m)^berth$|\bberth: [a-z-]+|# berth = |without berth and kind`, "the key and the column keep the code's word"},
	{`Four of five years`, "a range said in words"},
}

// visible is a text that somebody reads, and where.
type visible struct{ where, text string }

// TestNobodyReadsAnOldWord reads every kind of page of the demo shop, the
// emails that it sent, the help of every command, the keys of what the commands
// print for machines, the settings and the measures, as they come out of the
// program, and none of the sources.
func TestNobodyReadsAnOldWord(t *testing.T) {
	if testing.Short() {
		t.Skip("reads some hundred pages; a short run leaves it out")
	}
	s := &testShop{dir: t.TempDir(), today: "2026-09-29"}
	d := s.serve(t, "demo", "--boats", "60", "--years", "3", "--keep", s.dir, "--listen", freeAddress(t))
	untilPage(t, d, "/outbox", regexp.MustCompile(`outbox/email`))
	seen := sitePages(t, d)
	seen = append(seen, visible{"metrics", strings.Join(regexp.MustCompile(`(?m)^# HELP bellbuoy.*|^bellbuoy.*`).FindAllString(body(t, d, "/metrics"), -1), "\n")})
	d.stop(t)
	seen = append(seen, helpTexts(t, s)...)
	seen = append(seen, jsonKeys(t, s)...)
	seen = append(seen, visible{"settings", string(config.Template)})
	words, phrases := wordsSought()
	found := make(map[string][]string)
	for _, v := range seen {
		text := v.text
		for _, a := range allowed {
			text = regexp.MustCompile(a.words).ReplaceAllString(text, " ")
		}
		for _, re := range []*regexp.Regexp{words, phrases} {
			for _, at := range re.FindAllStringIndex(text, -1) {
				key := strings.ToLower(text[at[0]:at[1]])
				found[key] = append(found[key], fmt.Sprintf("%s: ...%s...", v.where, strings.Join(strings.Fields(text[max(0, at[0]-50):min(len(text), at[1]+40)]), " ")))
			}
		}
	}
	for _, key := range slices.Sorted(maps.Keys(found)) {
		where := slices.Compact(found[key])
		t.Errorf("%q, %d times:\n\t%s", strings.TrimSpace(key), len(where), strings.Join(where[:min(4, len(where))], "\n\t"))
	}
	if len(seen) < 60 {
		t.Errorf("only %d texts were read", len(seen))
	}
}

// wordsSought are the old words and phrases as they stand in a text, in any case.
func wordsSought() (words, phrases *regexp.Regexp) {
	var all []string
	for w := range strings.FieldsSeq(oldWords) {
		all = append(all, strings.ReplaceAll(regexp.QuoteMeta(w), `\*`, `[a-z]*`))
	}
	words = regexp.MustCompile(`(?i)(?:^|[^A-Za-z-])(` + strings.Join(all, "|") + `)(?:$|[^A-Za-z-])`)
	return words, regexp.MustCompile(`(?i)` + strings.ReplaceAll(strings.TrimSpace(oldPhrases), "\n", ""))
}

// perKind is how many pages of one kind are read: what differs between two
// boats' pages is mostly names.
const perKind = 6

// sitePages follows the links of the site from its first page.
func sitePages(t *testing.T, d *served) []visible {
	t.Helper()
	var all []visible
	links := regexp.MustCompile(`(?:href|src)="(/[^"#]*)`)
	kindOf := regexp.MustCompile(`[A-Z]{1,2}\d{3,}[A-Z0-9.-]*|\d+|[a-z2-7]{20,}`)
	queue, known, kinds := []string{"/", "/my/none", "/no-such-page"}, map[string]bool{}, map[string]int{}
	for len(queue) > 0 {
		path := queue[0]
		queue = queue[1:]
		kind := kindOf.ReplaceAllString(path, "?")
		if known[path] || kinds[kind] >= perKind || strings.HasPrefix(path, "/static") {
			continue
		}
		known[path], kinds[kind] = true, kinds[kind]+1
		resp, page := d.get(t, http.MethodGet, d.base+path)
		all = append(all, visible{path, readable(resp.Header.Get("Content-Type"), page)})
		for _, m := range links.FindAllStringSubmatch(page, -1) {
			queue = append(queue, html.UnescapeString(m[1]))
		}
		for _, m := range regexp.MustCompile(regexp.QuoteMeta(d.base)+`(/(?:my|stop|cal)/[^\s"<?]+)`).FindAllStringSubmatch(page, -1) {
			queue = append(queue, m[1])
		}
	}
	return all
}

var (
	unread = regexp.MustCompile(`(?s)<(script|style)[^>]*>.*?</(script|style)>`)
	said   = regexp.MustCompile(`\b(?:alt|title|aria-label|placeholder|label)="([^"]*)"`)
	tags   = regexp.MustCompile(`<[^>]*>`)
	folded = regexp.MustCompile(`\r\n[ \t]`)
	stamps = regexp.MustCompile(`(?m)^(UID|URL|DTSTAMP|ATTACH)[:;].*$|https?://\S+`)
)

// readable is what somebody reads of an answer: the words of a page without its
// tags, with what is said in their place.
func readable(kind, page string) string {
	if !strings.HasPrefix(kind, "text/html") {
		return stamps.ReplaceAllString(folded.ReplaceAllString(page, ""), "")
	}
	page = unread.ReplaceAllString(page, "")
	var b strings.Builder
	for _, m := range said.FindAllStringSubmatch(page, -1) {
		b.WriteString(html.UnescapeString(m[1]) + "\n")
	}
	return b.String() + html.UnescapeString(tags.ReplaceAllString(page, " "))
}

func body(t *testing.T, d *served, path string) string {
	t.Helper()
	_, page := d.get(t, http.MethodGet, d.base+path)
	return page
}

// helpTexts are the help of every command and of those below it.
func helpTexts(t *testing.T, s *testShop) []visible {
	t.Helper()
	var all []visible
	below := regexp.MustCompile(`(?m)^  ([a-z][a-z-]*) {2,}\S`)
	queue := [][]string{nil}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		text := s.do(t, append(slices.Clone(at), "--help")...)
		all = append(all, visible{"help " + strings.Join(at, " "), text})
		_, list, ok := strings.Cut(text, "Available Commands:")
		list, _, _ = strings.Cut(list, "Flags:")
		if !ok || len(at) > 2 {
			continue
		}
		for _, m := range below.FindAllStringSubmatch(list, -1) {
			if m[1] != "help" && m[1] != "completion" {
				queue = append(queue, append(slices.Clone(at), m[1]))
			}
		}
	}
	return all
}

// jsonKeys are the keys that the commands print for machines, and the words of
// what they print for people.
func jsonKeys(t *testing.T, s *testShop) []visible {
	t.Helper()
	var all []visible
	for _, args := range [][]string{
		{"due"}, {"weeks"}, {"parts"}, {"returns", "--refresh"}, {"mail", "status"}, {"mail", "list"}, {"mail", "preview"}, {"mail", "preview", "--season"},
		{"rules", "list"}, {"staff", "list"}, {"duplicates"}, {"duplicates", "merged"}, {"check"}, {"plan", "B00001"}, {"hours", "B00001"}, {"customer", "show", "C00001"},
	} {
		all = append(all, visible{"output of " + strings.Join(args, " "), s.tryDo(t, args...)})
		var keys []string
		var v any
		if err := json.Unmarshal([]byte(s.tryDo(t, append(args, "--json")...)), &v); err != nil {
			continue
		}
		gather(v, &keys)
		slices.Sort(keys)
		all = append(all, visible{"keys of " + strings.Join(args, " "), strings.ReplaceAll(strings.Join(slices.Compact(keys), "\n"), "_", " ")})
	}
	folder := filepath.Join(s.dir, "out")
	s.do(t, "export", folder)
	for _, name := range []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"} {
		text, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Fatal(err)
		}
		header, _, _ := bytes.Cut(text, []byte("\n"))
		if name != "boats.csv" { // its column berth is a code of the importing shop's file
			all = append(all, visible{name, string(header)})
		}
	}
	return all
}

// gather adds the keys of a JSON value, however deep. The keys of the tables
// that "customer show" hands over are columns and stay.
func gather(v any, keys *[]string) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			*keys = append(*keys, k)
			gather(x, keys)
		}
	case []any:
		for _, x := range v {
			gather(x, keys)
		}
	}
}
