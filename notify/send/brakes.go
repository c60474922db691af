package send

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
)

// When the queue pauses by itself. The figures are the shop's caution, no
// source: a healthy server leaves none in doubt, and a list of customers is
// never half dead.
const (
	mostUncertain = 3  // in a row
	mostDead      = 5  // refused for their address, with none accepted between them
	leastKnown    = 10 // letters of a drain from which half may be judged
	mostPolicy    = 3  // mailboxes of one domain that want no mail of ours, with none accepted there
	policyFor     = 24 * time.Hour
)

// answers are what the mail server has said lately, across drains.
type answers struct {
	uncertain int     // in a row, without an answer
	deadRun   []int64 // letters refused for their address since one was accepted
	// policy are the letters that a domain refused for a policy within a day; at
	// most one from before it accepted another.
	policy map[string][]policyRefusal

	known   int     // letters of this drain with an answer
	dead    []int64 // those of this drain that were refused for their address
	doubted string  // why those are in doubt, "" if they are not
}

type policyRefusal struct {
	letter int64
	at     time.Time
}

func (a *answers) begin() { a.known, a.dead, a.doubted = 0, nil, "" }

// note takes the verdict on a letter and says whether the queue must pause; a
// brake without a reason is none.
func (a *answers) note(l *schedule.Message, v *verdict, now time.Time) schedule.Brake {
	o := &v.outcome
	switch {
	case o.State == schedule.MessageUncertain:
		a.uncertain++
		if a.uncertain >= mostUncertain {
			return schedule.Brake{Probe: true, Why: fmt.Sprintf("the mail server left %d emails in a row without an answer, the last with: %s. One email tries again every hour", a.uncertain, o.Answer)}
		}
		return schedule.Brake{}
	case o.Code == 0 || v.unreached:
		return schedule.Brake{} // nothing was said about the letter
	}
	a.uncertain = 0
	a.known++
	domain := strings.ToLower(l.To[strings.LastIndexByte(l.To, '@')+1:])
	switch {
	case o.State == schedule.MessageSent:
		a.deadRun = nil
		if all, ok := a.policy[domain]; ok {
			a.policy[domain] = all[:1]
		}
	case o.Suppress:
		a.deadRun, a.dead = append(a.deadRun, l.ID), append(a.dead, l.ID)
	case v.policy:
		return a.notePolicy(domain, policyRefusal{l.ID, now}, o)
	}
	switch {
	case a.doubted != "" && o.Suppress: // another lane's, that was under way
	case len(a.deadRun) >= mostDead:
		a.doubted = fmt.Sprintf("the mail server says of %d addresses in a row that they do not exist, the last with: %s", mostDead, reply(o))
	case a.known >= leastKnown && 2*len(a.dead) >= a.known:
		a.doubted = fmt.Sprintf("the mail server says of %d of %d addresses that they do not exist", len(a.dead), a.known)
	default:
		return schedule.Brake{}
	}
	b := schedule.Brake{Why: a.doubted, Doubted: slices.Concat(a.deadRun, a.dead)}
	slices.Sort(b.Doubted)
	b.Doubted = slices.Compact(b.Doubted)
	a.deadRun = nil
	return b
}

// notePolicy takes a refusal for a policy. One mailbox's is its own affair.
func (a *answers) notePolicy(domain string, r policyRefusal, o *schedule.Outcome) schedule.Brake {
	if a.policy == nil {
		a.policy = map[string][]policyRefusal{}
	}
	a.policy[domain] = append(a.policy[domain], r)
	for d, all := range a.policy {
		// Either way: a clock may have been ahead.
		all = slices.DeleteFunc(all, func(x policyRefusal) bool { return r.at.Sub(x.at).Abs() > policyFor })
		if a.policy[d] = all; len(all) == 0 {
			delete(a.policy, d)
		}
	}
	if !ours(len(a.policy), len(a.policy[domain])) {
		return schedule.Brake{}
	}
	b := schedule.Brake{Why: fmt.Sprintf("emails are refused by %s, the last with: %s", strings.Join(slices.Sorted(maps.Keys(a.policy)), " and "), reply(o))}
	for _, all := range a.policy {
		for _, x := range all {
			b.Again = append(b.Again, x.letter)
		}
	}
	slices.Sort(b.Again)
	a.policy = nil
	return b
}

// ours reports whether refusals for a policy, by so many domains and so often by
// one of them, mean us and not the reader.
func ours(domains, byOne int) bool { return domains >= 2 || byOne >= mostPolicy }

// PolicyIsOurs reports the same of the addresses whose letters came back for a
// policy within a day.
func PolicyIsOurs(addresses []string) bool {
	by, most := map[string]int{}, 0
	for _, a := range addresses {
		domain := strings.ToLower(a[strings.LastIndexByte(a, '@')+1:])
		by[domain]++
		most = max(most, by[domain])
	}
	return ours(len(by), most)
}

// ReturnedSpan is how far back what was sent is looked at when letters come back.
const ReturnedSpan = policyFor

// BrakeReturned is the brake on dead addresses for a relay that takes everything and sends
// back what it cannot deliver: it weighs what was sent lately, in that order, when
// one more of it came back as dead. A brake without a reason is none. What is
// still under way counts as delivered.
func BrakeReturned(sent []schedule.SentMessage, letter int64, said string) schedule.Brake {
	var run, dead []int64
	longest := map[string]bool{} // addresses of the run
	most, doubted := 0, false
	var inRun []int64
	for _, l := range sent {
		doubted = doubted || l.Doubted
		if !l.Dead && l.ID != letter {
			run, longest = nil, map[string]bool{}
			continue
		}
		dead, run, longest[l.To] = append(dead, l.ID), append(run, l.ID), true
		if len(longest) > most {
			most, inRun = len(longest), run
		}
	}
	b := schedule.Brake{}
	switch {
	case doubted:
		b.Doubted = []int64{letter}
		b.Why = "emails come back because their addresses do not exist, the last with: " + said
	case most >= mostDead:
		b.Doubted = inRun
		b.Why = fmt.Sprintf("emails to %d addresses in a row came back because they do not exist, the last with: %s", most, said)
	case len(sent) >= leastKnown && 2*len(dead) >= len(sent):
		b.Doubted = dead
		b.Why = fmt.Sprintf("%d of the last %d emails came back because their addresses do not exist", len(dead), len(sent))
	}
	return b
}

// reply is what the server said, in one line.
func reply(o *schedule.Outcome) string {
	return words.OneLine(fmt.Sprint(o.Code, " ", o.Enhanced, " ", o.Answer))
}
