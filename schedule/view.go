package schedule

import (
	"errors"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// Line is one due item as people read it, on the desk, in the feed and in a
// mail alike. Its words are made from the item's facts each time.
type Line struct {
	Item        DueItem
	Title       string // "Water pump impeller (port engine)"
	Why         string // one to three plain sentences
	Source      string // where the interval comes from
	Consequence string // what goes wrong if it is missed
	Cautions    []string
	// OwnerTitle, OwnerConsequence and OwnerCautions are the words for the boat's
	// owner; see [BoatView.ForOwner].
	OwnerTitle, OwnerConsequence string
	OwnerCautions                []rules.OwnerCaution
	Included                     bool // a job that another line of the same visit covers: no time or price of its own
	// Guarded: set by law, by a printed last day or by a finding, or missing it
	// can hurt people. Its reminders are never held back.
	Guarded bool
}

// VisitView is one visit with the lines it carries.
type VisitView struct {
	Visit Visit
	Title string // "Winterization", "Spring commissioning", "Service visit"
	Why   string // why then: window, season, week
	// WeekWhy says why it is in that shop week and not in the one that would suit
	// it best or that it had, "" if there is nothing to say. It is the shop's own
	// reckoning and goes to no customer.
	WeekWhy string
	Lines   []Line
	// Stays says of a lay-up which oil and lube stay in, as they are fresh.
	Stays []string
	// NoGasoline: nothing aboard burns gasoline, so its fumes are no danger.
	NoGasoline bool
	// QuotedFirst: it has work without a price in the catalog, so that Visit.Price
	// is not all of it.
	QuotedFirst bool
}

// BoatView is a boat's plan as people read it.
type BoatView struct {
	Boat   Boat
	Place  Place
	Visits []VisitView
	// Loose are items that no visit carries: beyond the horizon, or the
	// customer does them himself.
	Loose []Line
	// Dropped are visits that the owner was told were booked, that are in the plan no more,
	// and whose booking was taken off: an id, a kind and a title. Only of a [Recipient]'s.
	Dropped []VisitView
}

// Step is a kind of message, and for reminders how far the reminding of a
// visit has gone.
type Step string

// The steps of reminding for one visit, in order, and the other messages.
const (
	StepInvitation   Step = "first-reminder"
	StepNudge        Step = "second-reminder"
	StepLastCall     Step = "final-reminder"
	StepOverdue      Step = "overdue-notice"
	StepConfirmation Step = "confirmation" // the visit was booked
	StepBooked       Step = "booked"       // two working days before a booked visit
	StepCancellation Step = "cancellation"
	StepPassedOn     Step = "passed-on" // to the earlier owner of a boat with a booked visit
	StepHours        Step = "hours"     // please read the meter
	StepAsked        Step = "asked"     // on the day from which the customer wished to be asked again
	StepWarranty     Step = "warranty"
	StepRenewal      Step = "renewal" // a paper that the owner renews runs out
	StepWelcome      Step = "welcome"
	StepFreeze       Step = "freeze"      // a hard freeze is forecast and the boat is not winterized
	StepSummary      Step = "summary"     // after a visit: what was done, what comes next
	StepPage         Step = "page"        // the address of the customer's page, asked for
	StepNewLink      Step = "new-link"    // the same after it was replaced
	StepNewAddress   Step = "new-address" // an appointment goes to another email address
	StepCorrection   Step = "correction"  // an email told of an entry that was a mistake
)

// WelcomeSubject is what the welcome of a boat's owner is about.
func WelcomeSubject(boatID string) string { return boatID + ".welcome" }

// Notified is a fact about the past: this customer was told this about this
// visit. Subject is the visit's ID, or for other messages what they are about.
type Notified struct {
	CustomerID string
	Subject    string
	Step       Step
	On         civil.Day
	// For a pencilled visit, the week that was named.
	Week civil.Week
	// InDoubt: it was told by an email of which nobody knows that it arrived: it
	// waits, its sending was cut short, or it was refused or came back.
	InDoubt bool
}

// Recipient is everything the reminder policy may use about one customer.
type Recipient struct {
	Customer Customer
	Boats    []BoatView
	Notified []Notified
	// Answers are those that stand, in order of time; of those about one visit
	// only the newest.
	Answers []Answer
	// CalledOff are the visits of which the desk said who called them off.
	CalledOff []CalledOff
	// NoReminders: the customer asked for no mails except about booked visits.
	NoReminders bool
	// NoMail: the customer asked for no mail at all.
	NoMail bool
	// Suppressed says why the address is dead ("" if it is not).
	Suppressed string
	// Holdouts are the customer's nudges that came due while some were held back.
	Holdouts []Holdout
	// LastSign is the newest day on which a reading was taken or work of the shop
	// recorded on one of the boats, none if never.
	LastSign civil.Day
	// LastMail is the day of the newest mail queued or sent, none if never.
	LastMail civil.Day
}

// Holdout is a nudge that came due while the shop held some back at random, to
// learn what nudges bring: a fact about the past.
type Holdout struct {
	CustomerID string
	BoatID     string
	VisitID    string
	On         civil.Day
	Held       bool // held back; else it was to go out
	Percent    int  // of customers whose nudges were held back then
}

// The answers of an outbox that a sender must tell apart.
var (
	// ErrNone says that it has no letter to send now.
	ErrNone = errors.New("no letter to send")
	// ErrLostLease says that a letter is no longer the sender's: the lease ran
	// out, or the customer has asked to stop.
	ErrLostLease = errors.New("the letter's lease is lost")
)

// MessageState is where a letter in the outbox stands.
type MessageState string

// The states of a letter. Queued and deferred letters are sent when their time
// comes; leased ones are being sent; held ones wait for a person. The rest are
// final.
const (
	MessageQueued    MessageState = "queued"
	MessageLeased    MessageState = "leased"
	MessageSent      MessageState = "sent"
	MessageUncertain MessageState = "uncertain" // the final dot went out, the answer was never seen (RFC 1047)
	MessageDeferred  MessageState = "deferred"
	MessageRefused   MessageState = "refused"
	MessageExpired   MessageState = "expired" // past its last useful day
	MessageHeld      MessageState = "held"
	// MessageWithdrawn: what it tells was no longer true, or nobody may have it
	// any more, before it was sent; what it was to tell was not heard.
	MessageWithdrawn MessageState = "withdrawn"
)

// Named is something that a letter names and that may change while it waits: a
// visit as [Visit.Standing] has it, or with an empty ID the customer's email
// address and way of contact, with a space between, or with [NamedLanguage] the
// language chosen for them.
type Named struct {
	ID       string `json:"id"`
	Standing string `json:"is"`
}

// NamedLanguage is the id of the language among what a letter names; no visit's.
const NamedLanguage = "language"

// Message is one mail to one address, its bytes fixed when it was queued.
type Message struct {
	ID         int64
	Key        string // dedupe key: customer, subjects, step; the outbox takes each key once
	CustomerID string
	To         string // bare address
	From       string // envelope sender
	Step       Step
	Subjects   []string // the visits (or other subjects) it tells about
	Names      []Named  // what the outbox looks at again before its first attempt; given when it is queued
	MessageID  string   // without angle brackets
	Subject    string   // the Subject header, decoded, for lists
	Raw        []byte   // RFC 5322, CRLF line ends, signed if a key is set
	State      MessageState
	Attempts   int
	NextAt     time.Time // not before this instant
	NotAfter   time.Time // the last useful instant
	QueuedAt   time.Time
	LeaseToken string // set while leased; every later step must show it
	// Probe: the queue is paused because the mail server left letters in doubt,
	// and this one tries whether it answers again.
	Probe    bool
	DotAt    time.Time
	Code     int    // last SMTP reply code, 0 if none
	Enhanced string // last enhanced status code, "5.1.1"
	Answer   string // last reply text
}

// Outcome is what became of one attempt to send a letter.
type Outcome struct {
	State    MessageState
	Code     int
	Enhanced string
	Answer   string
	NextAt   time.Time // for a deferred letter
	// Suppress: the address is dead by the server's word, which is believed at
	// the end of the drain; then the customer goes on the call list.
	Suppress bool
	// EndsPause: a letter that was a probe had an answer.
	EndsPause bool
	// PauseQueue: the refusal is our fault (5.7.x); nothing more is sent until
	// a person has looked.
	PauseQueue bool
}

// Invitation is a drop-off as it was told to one customer's calendar: the booked
// visits of one day as one appointment.
type Invitation struct {
	UID        string
	CustomerID string
	Address    string // that the email went to
	Day        civil.Day
	Start, End time.Time
	Visits     []string // their ids, rising
	Sequence   int
	Stamp      time.Time
	Cancelled  bool
}

// SentMessage is one that a mail server took.
type SentMessage struct {
	ID            int64
	To            string // lower case
	Dead, Doubted bool   // it came back because its address is dead; that is in doubt
}

// Brake stops the queue because of what several letters met with.
type Brake struct {
	Why string // in words, for the desk
	// Probe: after a while one letter tries, and an answer to it lets the queue
	// go on; else it waits for a person.
	Probe bool
	// Doubted are letters that were refused, or came back, because their addresses
	// are dead, as the server says; nobody is suppressed until the desk has said what it was.
	Doubted []int64
	// Again are letters that were refused for what has turned out to be a fault
	// of ours; those that were tried once are tried again.
	Again []int64
}
