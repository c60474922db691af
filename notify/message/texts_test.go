package message_test

import (
	"strings"
	"testing"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/message"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

func TestOwnPhrases(t *testing.T) {
	own, err := texts.Read("shop.toml", []byte("[when]\nweek = \"the week from {date}\"\n"))
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
	subject, text := written(t, shop, nil, "invitation")
	if subject != "Heron: winterization in the week of 5 Oct" || !strings.Contains(text, "Week of 5 Oct ") || !strings.Contains(text, "about £") {
		t.Errorf("%s\n%s", subject, text)
	}
}

// written is one of the usual cases as it is read.
func written(t *testing.T, shop message.Shop, catalog *texts.Catalog, name string) (subject, text string) {
	t.Helper()
	r, err := message.NewRenderer(shop, catalog, nil)
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
