// Package texts has the sentences that customers read, one folder a language:
// emails, their pages, calendars, the delivery sheet, and why something is due.
// What staff read stands in the pages and commands themselves, in English.
//
// In: a key and the words that fill its holes. Out: a sentence. It imports
// nothing of ours. A newcomer may change any phrase, and add one to every
// language's file at once; a test holds all languages to the keys and holes of
// English.
package texts

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/unicode/norm"
)

//go:embed en fr
var files embed.FS

// Catalog has the phrases of every language, with a shop's own in place of the
// built-in ones. A nil Catalog has the built-in ones.
type Catalog struct {
	languages map[string]*Texts
	own       int
}

// Texts are the phrases of one language.
type Texts struct {
	language string
	phrases  map[string]string // by dotted key: "intro.late"
}

// builtin reads the files of the program itself, whose faults are ours.
var builtin = sync.OnceValue(func() *Catalog {
	c := &Catalog{languages: make(map[string]*Texts)}
	folders, err := files.ReadDir(".")
	for _, folder := range folders {
		t := &Texts{language: folder.Name(), phrases: make(map[string]string)}
		var tree map[string]any
		err = errors.Join(err, toml.Unmarshal(File(t.language), &tree), flatten(t.phrases, "", tree))
		c.languages[t.language] = t
	}
	if err != nil {
		panic(err)
	}
	return c
})

// File is the built-in phrases of a language, one file after the other, for
// whoever writes their own; nil for a language that there is not.
func File(language string) []byte {
	entries, err := files.ReadDir(language)
	if err != nil {
		return nil
	}
	var all [][]byte
	for _, e := range entries {
		data, err := files.ReadFile(path.Join(language, e.Name()))
		if err != nil {
			return nil
		}
		all = append(all, data)
	}
	return bytes.Join(all, []byte("\n"))
}

// Languages are those that a customer can be written to in, English first.
func Languages() []string {
	all := slices.Sorted(maps.Keys(builtin().languages))
	slices.SortStableFunc(all, func(a, b string) int {
		switch {
		case a == "en":
			return -1
		case b == "en":
			return 1
		}
		return 0
	})
	return all
}

// Named is the language that a word means: its tag, with or without a region
// ("fr", "fr-CA"), or its name in English or in itself, accents left out or not.
// A word that means none is returned as it is.
func Named(word string) string {
	plain := plainWord(word)
	tag, _, _ := strings.Cut(strings.ReplaceAll(plain, "_", "-"), "-")
	for language, t := range builtin().languages {
		if language == tag || plain == plainWord(t.phrases["language.own"]) || plain == plainWord(t.phrases["language.english"]) {
			return language
		}
	}
	return word
}

// plainWord writes a word in small letters without accents.
func plainWord(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(strings.ToLower(strings.TrimSpace(s))))
}

// EnglishName is what staff call a language: "French". "" is "".
func EnglishName(language string) string {
	if t, ok := builtin().languages[language]; ok {
		return t.phrases["language.english"]
	}
	return language
}

// Read puts a shop's own phrases, a TOML file, over the built-in ones. Tables at
// the top are English phrases; those of another language stand under its name:
// [fr.intro]. What the file leaves out stays. A key that English does not have,
// and a word in braces that nothing fills, are errors; all come at once.
func Read(name string, data []byte) (*Catalog, error) {
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		return nil, fmt.Errorf("texts %q: %w", name, err)
	}
	english := builtin().In("en").phrases
	c := &Catalog{languages: make(map[string]*Texts)}
	var faults []error
	for _, language := range Languages() {
		t := &Texts{language: language, phrases: maps.Clone(builtin().In(language).phrases)}
		c.languages[language] = t
		own := make(map[string]string)
		var part map[string]any
		if language == "en" {
			part = maps.Clone(tree)
			maps.DeleteFunc(part, func(key string, _ any) bool { _, is := builtin().languages[key]; return is })
		} else {
			var is bool
			if part, is = tree[language].(map[string]any); !is && tree[language] != nil {
				return nil, fmt.Errorf("texts %q: %s: want a table of phrases, have %v", name, language, tree[language])
			}
		}
		if err := flatten(own, "", part); err != nil {
			return nil, fmt.Errorf("texts %q: %w", name, err)
		}
		for _, key := range slices.Sorted(maps.Keys(own)) {
			faults = append(faults, check(name, language, key, own[key], english))
			t.phrases[key] = own[key]
			c.own++
		}
	}
	return c, errors.Join(faults...)
}

// check holds a phrase to the key and the holes of the English one.
func check(name, language, key, phrase string, english map[string]string) error {
	of, ok := english[key]
	fills := of
	if number, one := strings.CutSuffix(key, ".one"); one {
		fills += english[number+".other"] // "1 month" has no {n}, which is filled nevertheless
	}
	if language != "en" {
		key = language + "." + key
	}
	if !ok {
		return fmt.Errorf("texts %q: %s: no such phrase; the keys are those of the English file", name, key)
	}
	for _, hole := range holes.FindAllString(phrase, -1) {
		if !strings.Contains(fills, hole) {
			return fmt.Errorf("texts %q: %s: nothing fills %s; the English phrase is %q", name, key, hole, of)
		}
	}
	return nil
}

// holes finds the words in braces.
var holes = regexp.MustCompile(`\{[^{}]*\}`)

// flatten writes a tree of tables as dotted keys.
func flatten(into map[string]string, prefix string, tree map[string]any) error {
	for key, v := range tree {
		key = prefix + key
		switch v := v.(type) {
		case string:
			into[key] = v
		case map[string]any:
			if err := flatten(into, key+".", v); err != nil {
				return err
			}
		default:
			return fmt.Errorf("%s: want a text, have %v", key, v)
		}
	}
	return nil
}

// Own is how many phrases are the shop's own.
func (c *Catalog) Own() int {
	if c == nil {
		return 0
	}
	return c.own
}

// MarshalJSON writes all phrases: what was written with others is written again.
func (c *Catalog) MarshalJSON() ([]byte, error) {
	phrases := make(map[string]map[string]string, len(c.languages))
	for language, t := range c.languages {
		phrases[language] = t.phrases
	}
	return json.Marshal(phrases)
}

// In is a language's phrases, English for one that there is not.
func (c *Catalog) In(language string) *Texts {
	if c == nil {
		c = builtin()
	}
	if t, ok := c.languages[language]; ok {
		return t
	}
	return c.languages["en"]
}

// Language is the tag of the language, "en".
func (t *Texts) Language() string { return t.language }

// Say fills a phrase: pairs are the words in braces and what they become. A word
// that no pair fills stays in its braces.
func (t *Texts) Say(key string, pairs ...string) string {
	rest := t.phrases[key]
	var said strings.Builder
	for {
		before, hole, found := strings.Cut(rest, "{")
		said.WriteString(before)
		if !found {
			return said.String()
		}
		rest = hole
		name, after, closed := strings.Cut(hole, "}")
		i := 0
		for i < len(pairs) && pairs[i] != name {
			i += 2
		}
		if !closed || i >= len(pairs)-1 {
			said.WriteByte('{')
			continue
		}
		said.WriteString(pairs[i+1])
		rest = after
		if strings.HasSuffix(pairs[i+1], ".") { // "le 10 oct." ends a sentence too
			rest = strings.TrimPrefix(rest, ".")
		}
	}
}

// Count fills a phrase that depends on a number, which it gets as {n}. In French
// zero takes the singular too (Unicode CLDR, plural rules).
func (t *Texts) Count(key string, n int, pairs ...string) string {
	form := ".other"
	if n == 1 || n == 0 && t.language == "fr" {
		form = ".one"
	}
	return t.Say(key+form, append(pairs, "n", strconv.Itoa(n))...)
}

// List joins names: "Heron, Wren and Tern".
func (t *Texts) List(names []string) string {
	if len(names) == 0 {
		return ""
	}
	s := names[0]
	for i, n := range names[1:] {
		key := "join.comma"
		if i == len(names)-2 {
			key = "join.and"
		}
		s = t.Say(key, "a", s, "b", n)
	}
	return s
}
