package message

import (
	"fmt"
	"net/mail"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
)

// Report is an email to the shop's own people: sentences, each with the page that
// shows what it is counted from. The shop has no texts of its own for it; whoever
// counts also words.
type Report struct {
	Key      string        // names it in the outbox, for good
	Step     schedule.Step // names its kind there
	To       string        // must be an address that [notify.CheckMailAddress] takes
	Title    string        // subject and heading
	Sections []Section
	More     Hyperlink // below all of it
	At       time.Time // when it is written
	NotAfter time.Time // when it is no longer worth sending
}

// Section is a part of a report; Title is "" for none.
type Section struct {
	Title string
	Lines []Sentence
}

// Sentence is one statement of a report. What its link says must tell where it
// leads, also without the sentence.
type Sentence struct {
	Text string
	Link Hyperlink
}

// Report renders a report into the bytes that go out, as [Renderer.Message] does a
// notice.
func (r *Renderer) Report(x *Report) (schedule.Message, error) {
	to, err := notify.CheckMailAddress(x.To)
	if err != nil {
		return schedule.Message{}, fmt.Errorf("report %q: %w", x.Title, err)
	}
	c := &content{
		Language: r.texts.In(words.English).Language(), Colon: r.texts.In(words.English).Say("join.colon"), Subject: words.OneLine(x.Title), Heading: x.Title, Sections: x.Sections, More: x.More,
		Sign:  []string{r.texts.In(words.English).Say("closing.sign", "shop", r.shop.Name)},
		Small: []string{r.shop.Name + ", " + r.shop.Address},
	}
	id := r.messageID(x.Key, x.At)
	raw, err := r.render(&envelope{id: id, to: &mail.Address{Address: to}, at: x.At}, c)
	if err != nil {
		return schedule.Message{}, fmt.Errorf("report %q: %w", x.Title, err)
	}
	return schedule.Message{
		Key: x.Key, To: to, From: r.from.Address, Step: x.Step, Subjects: []string{x.Key},
		MessageID: id + "@" + r.shop.Host, Subject: c.Subject, Raw: raw,
		State: schedule.MessageQueued, NextAt: x.At, NotAfter: x.NotAfter, QueuedAt: x.At,
	}, nil
}
