package race

import (
	"fmt"
	"slices"
)

// onRun finds the run and seat that a ruling is about: the present attempt at a heat.
func (n *Night) onRun(heatNo, seatNo int) (*run, *seat, error) {
	h, err := n.heatNo(heatNo)
	if err != nil {
		return nil, nil, err
	}
	if h.run == nil {
		return nil, nil, outOfTurn("heat %d has not been run", heatNo)
	}
	if seatNo < 1 || seatNo > len(h.run.seats) {
		return nil, nil, unknown("there is no %s %d", n.seatWord(), seatNo)
	}
	return h.run, &h.run.seats[seatNo-1], nil
}

func (s *seat) find(pass uint64) *heard {
	for i := len(s.passes) - 1; i >= 0; i-- {
		if s.passes[i].seq == pass {
			return &s.passes[i]
		}
	}
	return nil
}

func (n *Night) rule(seq uint64, e Event) (func() error, error) {
	ru := &ruling{id: seq, wall: e.When(), event: e}
	var err error
	switch e := e.(type) {
	case LapsGiven:
		ru.heat, ru.seat, ru.by, ru.why = e.Heat, e.Seat, e.By, e.Why
		if e.Laps == 0 || e.Laps > 1000 || e.Laps < -1000 {
			return nil, against("%d laps cannot be given, expected 1 to 1000, or as many taken", e.Laps)
		}
	case PassStruck:
		ru.heat, ru.seat, ru.by, ru.why = e.Heat, e.Seat, e.By, e.Why
		err = n.canSettle(e.Heat, e.Seat, e.Pass)
	case PassMoved:
		ru.heat, ru.seat, ru.by, ru.why = e.Heat, e.Seat, e.By, e.Why
		if e.To < 1 || e.To > n.Seats() || e.To == e.Seat {
			return nil, against("a pass cannot be moved from %s %d to %d", n.seatWord(), e.Seat, e.To)
		}
		err = n.canSettle(e.Heat, e.Seat, e.Pass)
	case PartSet:
		ru.heat, ru.seat, ru.by, ru.why = e.Heat, e.Seat, e.By, e.From
		h, herr := n.heatNo(e.Heat)
		switch {
		case herr != nil:
			return nil, herr
		case h.run == nil:
			return nil, outOfTurn("heat %d has not been run", e.Heat)
		case h.run.card.PartOf == 0:
			return nil, against("part laps are not counted by this rule card")
		case e.Part < 0 || e.Part >= h.run.card.PartOf:
			return nil, against("part lap %d/%d, expected 0 to %d; a whole lap is counted by its pass", e.Part, h.run.card.PartOf, h.run.card.PartOf-1)
		}
	case Penalised:
		ru.heat, ru.seat, ru.by, ru.why = e.Heat, e.Seat, e.By, e.Why
		if e.Laps < 0 || e.Hundredths < 0 || e.Laps > 1000 || e.Hundredths > 99 || e.Laps == 0 && e.Hundredths == 0 {
			return nil, against("a penalty of %d laps and %d hundredths, expected something to take", e.Laps, e.Hundredths)
		}
	case StintDropped:
		ru.heat, ru.seat, ru.by, ru.why = e.Heat, e.Seat, e.By, e.Why
	}
	if err != nil {
		return nil, err
	}
	r, _, err := n.onRun(ru.heat, ru.seat)
	if err != nil {
		return nil, err
	}
	ru.run = r
	ru.text = n.Describe(e)
	return n.enact(ru), nil
}

// canSettle tells whether a pass is there and not yet dealt with.
func (n *Night) canSettle(heatNo, seatNo int, pass uint64) error {
	_, s, err := n.onRun(heatNo, seatNo)
	if err != nil {
		return err
	}
	p := s.find(pass)
	if p == nil {
		return unknown("pass %d was not on %s %d in heat %d", pass, n.seatWord(), seatNo, heatNo)
	}
	if p.verdict == Struck || p.verdict == Moved {
		return against("that pass is %s already", p.verdict)
	}
	return nil
}

// enact puts a ruling in force, anew if it was taken back, and recounts what it touches.
func (n *Night) enact(ru *ruling) func() error {
	known := false
	for i := len(n.rulings) - 1; i >= 0; i-- {
		if n.rulings[i].id == ru.id {
			ru, known = n.rulings[i], true
			ru.undone = false
			break
		}
	}
	if !known {
		n.rulings = append(n.rulings, ru)
	}
	n.recountRuled(ru.run)
	return func() error {
		ru.undone = true
		n.recountRuled(ru.run)
		return nil
	}
}

// recountRuled works a run out anew from its passes and the rulings in force.
func (n *Night) recountRuled(r *run) {
	for i := range r.seats {
		s := &r.seats[i]
		s.given, s.penalty, s.hundredths, s.part, s.partFrom, s.dropped, s.in = 0, 0, 0, -1, "", false, nil
		for j := range s.passes {
			if v := &s.passes[j].verdict; *v == Struck || *v == Moved {
				*v = Unheard
			}
		}
	}
	for _, ru := range n.rulings {
		if ru.run == r && !ru.undone {
			n.force(r, ru.event)
		}
	}
	for i := range r.seats {
		r.recount(&r.seats[i])
	}
}

func (n *Night) force(r *run, e Event) {
	switch e := e.(type) {
	case LapsGiven:
		r.seats[e.Seat-1].given += e.Laps
	case PassStruck:
		if p := r.seats[e.Seat-1].find(e.Pass); p != nil {
			p.verdict = Struck
		}
	case PassMoved:
		if p := r.seats[e.Seat-1].find(e.Pass); p != nil && p.verdict != Struck {
			moved := *p
			moved.verdict = Unheard
			r.seats[e.To-1].in = append(r.seats[e.To-1].in, moved)
			p.verdict = Moved
		}
	case PartSet:
		r.seats[e.Seat-1].part, r.seats[e.Seat-1].partFrom = e.Part, e.From
	case Penalised:
		r.seats[e.Seat-1].penalty += e.Laps
		r.seats[e.Seat-1].hundredths += e.Hundredths
	case StintDropped:
		r.seats[e.Seat-1].dropped = true
	}
}

func (n *Night) questionNo(id uint64) *question {
	for i := len(n.questions) - 1; i >= 0; i-- {
		if n.questions[i].ID == id && n.questions[i].run != nil {
			return n.questions[i]
		}
	}
	return nil
}

// QuestionID makes the number of the count-th question about a seat in an attempt at a heat, all counted from 1. It does not depend on the
// journal, so that a replay asks under the same number.
func QuestionID(heatNo, attempt, seatNo, count int) uint64 {
	return ((uint64(heatNo)*10+uint64(min(attempt, 9)))*100+uint64(seatNo))*1000 + uint64(count)
}

// NextQuestion returns the number for the next question about a seat of the heat that is being driven.
func (n *Night) NextQuestion(seatNo int) uint64 {
	if n.at == nil {
		return 0
	}
	count := 1
	for _, q := range n.questions {
		if q.run == n.at.run && q.Seat == seatNo {
			count++
		}
	}
	return QuestionID(n.at.number, len(n.at.void)+1, seatNo, count)
}

func (n *Night) ask(e Asked) error {
	r, _, err := n.onRun(e.Heat, e.Seat)
	if err != nil {
		return err
	}
	if n.questionNo(e.ID) != nil {
		return against("question %d has been asked already", e.ID)
	}
	if err := n.checkProposal(e); err != nil {
		return err
	}
	n.questions = append(n.questions, &question{Asked: e, run: r, open: true})
	return nil
}

func (n *Night) checkProposal(e Asked) error {
	p := e.Proposal
	switch p.Do {
	case "strike", "move":
		_, s, err := n.onRun(e.Heat, e.Seat)
		if err != nil {
			return err
		}
		if s.find(e.Pass) == nil {
			return unknown("the question is about pass %d, which is not on %s %d", e.Pass, n.seatWord(), e.Seat)
		}
		if p.Do == "move" && (p.To < 1 || p.To > n.Seats() || p.To == e.Seat) {
			return against("the question proposes to move a pass to %s %d", n.seatWord(), p.To)
		}
	case "give", "penalise":
		if p.Laps < 1 || p.Laps > 1000 {
			return against("the question proposes %d laps", p.Laps)
		}
	case "drop":
	default:
		return against("the question proposes %q", p.Do)
	}
	return nil
}

// proposed is the ruling that accepting a question makes.
func (q *question) proposed(a Answered) Event {
	why := q.What
	switch q.Proposal.Do {
	case "strike":
		return PassStruck{a.Stamp, q.Heat, q.Seat, q.Pass, why, a.By}
	case "move":
		return PassMoved{a.Stamp, q.Heat, q.Seat, q.Proposal.To, q.Pass, why, a.By}
	case "give":
		return LapsGiven{a.Stamp, q.Heat, q.Seat, q.Proposal.Laps, why, a.By}
	case "penalise":
		return Penalised{a.Stamp, q.Heat, q.Seat, q.Proposal.Laps, 0, why, a.By}
	}
	return StintDropped{a.Stamp, q.Heat, q.Seat, why, a.By}
}

func (n *Night) answer(seq uint64, e Answered) (func() error, error) {
	q := n.questionNo(e.ID)
	if q == nil {
		return nil, unknown("there is no question %d", e.ID)
	}
	if !q.open {
		return nil, outOfTurn("question %d has been settled", e.ID)
	}
	var back func() error
	if e.Yes {
		h, err := n.heatNo(q.Heat)
		if err != nil {
			return nil, err
		}
		if h.run != q.run {
			return nil, outOfTurn("heat %d was declared void", q.Heat)
		}
		if back, err = n.rule(seq, q.proposed(e)); err != nil {
			return nil, err
		}
	} else {
		back = n.enact(&ruling{id: seq, wall: e.Wall, heat: q.Heat, run: q.run, seat: q.Seat, by: e.By, why: q.What,
			text: fmt.Sprintf("stands as counted: %s", q.Text), event: e})
	}
	q.open, q.yes, q.answered = false, e.Yes, seq
	return func() error {
		if err := back(); err != nil {
			return err
		}
		q.open, q.yes, q.answered = true, false, 0
		return nil
	}, nil
}

// dropQuestions forgets the open questions about a run that is no more.
func (n *Night) dropQuestions(r *run) {
	n.questions = slices.DeleteFunc(n.questions, func(q *question) bool { return q.run == r })
}
