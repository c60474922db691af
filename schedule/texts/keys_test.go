package texts_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
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
	for key := range have {
		table, name, _ := strings.Cut(strings.TrimSuffix(strings.TrimSuffix(key, ".one"), ".other"), ".")
		if !used[key] && !used[table+"."+name] && !used[table] && !strings.Contains(code, `"`+name+`"`) && !strings.Contains(code, `"`+key+`"`) {
			t.Errorf("nothing says %q", key)
		}
	}
}

func has(m map[string]string, key string) bool { _, ok := m[key]; return ok }

// keysOf are a language's phrases by dotted key.
func keysOf(t *testing.T, language string) map[string]string {
	t.Helper()
	var tree map[string]any
	if err := toml.Unmarshal(texts.File(language), &tree); err != nil {
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
