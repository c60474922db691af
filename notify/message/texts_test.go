package message_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/message"
	"bellbuoy/schedule/words"
)

// TestEveryPhraseIsThereAndUsed compares the keys in the code with those in
// the file, both ways.
func TestEveryPhraseIsThereAndUsed(t *testing.T) {
	data, err := os.ReadFile("texts/en.toml")
	if err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(data, &tree); err != nil {
		t.Fatal(err)
	}
	have := map[string]bool{}
	for table, v := range tree {
		if m, ok := v.(map[string]any); ok {
			for k := range m {
				have[table+"."+k] = true
			}
		}
	}
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("no code to read (%v)", err)
	}
	var code strings.Builder
	for _, f := range files {
		if !strings.HasSuffix(f, "_test.go") {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			code.Write(b)
		}
	}
	keys := regexp.MustCompile(`\.(?:say|count)\("([a-z_.-]+)"([ ,)+])`).FindAllStringSubmatch(code.String(), -1)
	if len(keys) < 20 {
		t.Fatalf("only %d phrases found in the code", len(keys))
	}
	used := map[string]bool{"language": true}
	for _, k := range keys {
		key, partial := k[1], strings.HasSuffix(k[1], ".")
		used[strings.TrimSuffix(key, ".")] = true
		if !partial && key != "language" && !have[key] {
			t.Errorf("the code says %q, the file does not have it", key)
		}
	}
	for key := range have {
		table, name, _ := strings.Cut(key, ".")
		if !used[key] && !used[table] && !strings.Contains(code.String(), `"`+name+`"`) && !strings.Contains(code.String(), `"`+key+`"`) {
			t.Errorf("nothing says %q", key)
		}
	}
}

func TestOwnPhrases(t *testing.T) {
	own, err := message.ParseTexts("shop.toml", []byte("[when]\nweek = \"the week from {date}\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	subject, text := written(t, fixture.Shop(t), own, "invitation")
	if subject != "Heron: winterization in the week from Oct 5" || !strings.Contains(text, "Hello ") {
		t.Errorf("%s\n%s", subject, text)
	}
}

func TestFormatsOfAnotherCountry(t *testing.T) {
	shop := fixture.Shop(t)
	var err error
	if shop.Format, err = words.New(words.Choices{Country: "GB"}); err != nil {
		t.Fatal(err)
	}
	texts, err := message.English()
	if err != nil {
		t.Fatal(err)
	}
	subject, text := written(t, shop, texts, "invitation")
	if subject != "Heron: winterization in the week of 5 Oct" || !strings.Contains(text, "Week of 5 Oct ") || !strings.Contains(text, "about £") {
		t.Errorf("%s\n%s", subject, text)
	}
}

// written is one of the usual cases as it is read.
func written(t *testing.T, shop message.Shop, texts *message.Texts, name string) (subject, text string) {
	t.Helper()
	r, err := message.NewRenderer(shop, texts, nil)
	if err != nil {
		t.Fatal(err)
	}
	n := fixture.Cases(t)[name]
	l, err := r.Message(&n, fixture.Links)
	if err != nil {
		t.Fatal(err)
	}
	_, text, _ = fixture.Bodies(t, l.Raw)
	return l.Subject, text
}

func TestBadPhrases(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"unknown key":        {"[intro]\nholiday = \"x\"\n", "intro.holiday: no such phrase"},
		"unknown hole":       {"[visit]\ndeadline = \"{boat} again\"\n", "visit.deadline: nothing fills {boat}"},
		"a hole in capitals": {"[visit]\ndeadline = \"by {Deadline}\"\n", "visit.deadline: nothing fills {Deadline}"},
		"both at once":       {"[intro]\nholiday = \"x\"\n[visit]\ndeadline = \"{boat}\"\n", "visit.deadline"},
		"not a text":         {"[intro]\nnudge = 3\n", "intro.nudge: want a text"},
		"a list":             {"[intro]\nnudge = [\"a\"]\n", "intro.nudge: want a text"},
		"not toml":           {"[intro\n", "shop.toml"},
	} {
		if _, err := message.ParseTexts("shop.toml", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
}

func FuzzParseTexts(f *testing.F) {
	f.Add("[intro]\nnudge = \"Hello {name}\"\n")
	f.Add("[date]\nmonths = []\n")
	f.Fuzz(func(t *testing.T, text string) {
		texts, err := message.ParseTexts("f", []byte(text))
		if err == nil && texts == nil {
			t.Fatal("neither texts nor an error")
		}
	})
}
