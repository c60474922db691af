package texts_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/schedule/texts"
)

// TestEveryPhraseIsThereAndUsed compares the keys in code and pages with those of
// the English files, both ways.
func TestEveryPhraseIsThereAndUsed(t *testing.T) {
	have := keysOf(t, "en")
	code := sources(t, "../../schedule", "../../notify", "../../cmd")
	keys := regexp.MustCompile(`(?:\.(?:Say|Count)\(|\b(?:say|count) )"([a-z_.-]+)"([ ,)+}])`).FindAllStringSubmatch(code, -1)
	if len(keys) < 20 {
		t.Fatalf("only %d phrases found in the code", len(keys))
	}
	used := map[string]bool{}
	for _, k := range keys {
		key := k[1]
		used[strings.TrimSuffix(key, ".")] = true
		partial := strings.HasSuffix(key, ".")
		if !partial && !has(have, key) && !has(have, key+".other") {
			t.Errorf("the code says %q, the file does not have it", key)
		}
	}
	// A key may be put together: "reasons.first." and then "week".
	var begun []string
	for _, literal := range regexp.MustCompile(`"((?:[a-z_-]+\.)+[a-z_-]*)"`).FindAllStringSubmatch(code, -1) {
		begun = append(begun, literal[1])
	}
	for key := range have {
		if slices.ContainsFunc(begun, func(s string) bool { return s == key || strings.HasPrefix(key, s) }) {
			continue
		}
		table, name, _ := strings.Cut(strings.TrimSuffix(strings.TrimSuffix(key, ".one"), ".other"), ".")
		if !used[key] && !used[table+"."+name] && !used[table] && !strings.Contains(code, `"`+name+`"`) && !strings.Contains(code, `"`+key+`"`) {
			t.Errorf("nothing says %q", key)
		}
	}
}

// TestEveryLanguageSaysTheSame holds the files of other languages to the keys and
// holes of English, file by file.
func TestEveryLanguageSaysTheSame(t *testing.T) {
	files, err := filepath.Glob("en/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no files: %v", err)
	}
	for _, file := range files {
		english := phrasesOf(t, file)
		for _, language := range texts.Languages()[1:] {
			path := filepath.Join(language, filepath.Base(file))
			if _, err := os.Stat(path); err != nil {
				t.Errorf("there is no %s", path)
				continue
			}
			other := phrasesOf(t, path)
			for key, phrase := range english {
				if got, ok := other[key]; !ok {
					t.Errorf("%s: no %s", path, key)
				} else if holes(got) != holes(phrase) {
					t.Errorf("%s: %s has the holes %q, in English %q", path, key, holes(got), holes(phrase))
				}
			}
			for key := range other {
				if !has(english, key) {
					t.Errorf("%s: %s is not in %s", path, key, file)
				}
			}
		}
	}
}

// holes are the words in braces of a phrase, rising, each once, but for {n}: "1" may
// stand as a word.
func holes(phrase string) string {
	all := regexp.MustCompile(`\{[^{}]*\}`).FindAllString(phrase, -1)
	slices.Sort(all)
	all = slices.DeleteFunc(slices.Compact(all), func(s string) bool { return s == "{n}" })
	return strings.Join(all, " ")
}

func has(m map[string]string, key string) bool { _, ok := m[key]; return ok }

// keysOf are a language's phrases by dotted key.
func keysOf(t *testing.T, language string) map[string]string {
	t.Helper()
	return flat(t, texts.File(language))
}

// phrasesOf are those of one file.
func phrasesOf(t *testing.T, path string) map[string]string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return flat(t, data)
}

func flat(t *testing.T, data []byte) map[string]string {
	t.Helper()
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		t.Fatal(err)
	}
	phrases := make(map[string]string)
	var walk func(prefix string, tree map[string]any)
	walk = func(prefix string, tree map[string]any) {
		for key, v := range tree {
			switch v := v.(type) {
			case string:
				phrases[prefix+key] = v
			case map[string]any:
				walk(prefix+key+".", v)
			}
		}
	}
	walk("", tree)
	return phrases
}

// sources is all code and all pages below the folders, in one text.
func sources(t *testing.T, folders ...string) string {
	t.Helper()
	var all strings.Builder
	for _, folder := range folders {
		err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasSuffix(path, "_test.go") {
				return err
			}
			if ext := filepath.Ext(path); ext != ".go" && ext != ".html" {
				return nil
			}
			b, err := os.ReadFile(path)
			all.Write(b)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return all.String()
}
