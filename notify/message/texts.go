package message

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

//go:embed texts/en.toml
var englishTexts []byte

// Texts are the words of the mails in one language.
type Texts struct {
	phrases map[string]string
	own     int
}

// Own is how many phrases are the shop's own.
func (t *Texts) Own() int { return t.own }

// EnglishFile is the file of the built-in words, for whoever writes their own.
func EnglishFile() []byte { return bytes.Clone(englishTexts) }

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
		t.own++
	}
	return t, errors.Join(faults...)
}

// holes finds the words in braces.
var holes = regexp.MustCompile(`\{[^{}]*\}`)

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
		default:
			return fmt.Errorf("%s: want a text, have %v", key, v)
		}
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
