package shop

import "testing"

const mark = 1.5875 // one ruling

// Worked by hand: the tape shows 32, 33, 28 and 40 marks. Row 2 is equal within one mark. Row 3 lacks 4 marks, one turn; it
// gives 8 tenths of that, 49.53 mm, which shows 31: equal. Row 4 is 8 marks too deep, two turns; it gives 6 tenths of that,
// 55.88 mm, which shows 35; 3 marks are three quarters of a turn; 53.02 mm then shows 33: equal.
func TestByHandOnThreads(t *testing.T) {
	p := exact(threads(), row{depthMm: 32 * mark, scale: 1}, row{depthMm: 33 * mark, scale: 1},
		row{depthMm: 28 * mark, scale: 0.8}, row{depthMm: 40 * mark, scale: 0.6})
	f := byHand(p)
	near(t, "the baseline", f.datumMm, 50.8, 1e-9)
	near(t, "row 3", p.rows[2].depthMm, 49.53, 1e-9)
	near(t, "row 4", p.rows[3].depthMm, 53.0225, 1e-9)
	if w := p.settle(f, usualToleranceMm); w.readings != 7 || w.moves != 3 || w.touched != 2 || w.even != 4 || w.wrong != 0 {
		t.Errorf("got %+v", w)
	}
	if w := p.settle(f, 2); w.wrong != 1 { // row 4 is 2.2225 mm off
		t.Errorf("beyond 2 mm: got %+v", w)
	}
}

// Worked by hand: row 2 shows 30 marks, 2 less than row 1, a little more than half a notch; one notch deeper it shows 34. It
// is not moved back to where it stood, and is not called even.
func TestByHandOnNotches(t *testing.T) {
	p := exact(notches(), row{depthMm: 32 * mark, scale: 1}, row{depthMm: 48, scale: 1}, row{depthMm: 31 * mark, scale: 1})
	f := byHand(p)
	near(t, "row 2", p.rows[1].depthMm, 54, 1e-9)
	if w := p.settle(f, usualToleranceMm); w.readings != 4 || w.moves != 1 || w.even != 2 || f.even[1] {
		t.Errorf("got %+v", w)
	}
}

// To who is strict row 2 is not equal: one mark is a quarter turn, which leaves row 2 on the baseline's mark.
func TestByHandToTheSameMark(t *testing.T) {
	p := exact(threads(), row{depthMm: 32 * mark, scale: 1}, row{depthMm: 33 * mark, scale: 1})
	p.strict = true
	f := byHand(p)
	near(t, "row 2", p.rows[1].depthMm, 32*mark, 1e-9)
	if w := p.settle(f, usualToleranceMm); w.readings != 3 || w.moves != 1 || w.even != 2 {
		t.Errorf("got %+v", w)
	}
}

func TestByHandGivesUp(t *testing.T) {
	p := exact(threads(), row{depthMm: 32 * mark, scale: 1}, row{depthMm: 25 * mark, scale: 0.1})
	f := byHand(p)
	if w := p.settle(f, usualToleranceMm); w.moves != handTries || f.even[1] {
		t.Errorf("a row that hardly moves: got %+v", w)
	}
}

func TestDoubtfulNumberIsReadAgain(t *testing.T) {
	p := exact(threads(), row{depthMm: 32 * mark, scale: 1})
	near(t, "a credible number", p.again(0, 46, 50.8), 46, 0)
	if p.rows[0].readings != 0 {
		t.Error("a credible number was read again")
	}
	near(t, "an inch off", p.again(0, 50.8+inchMm, 50.8), 50.8, 1e-9)
	if p.rows[0].readings != 1 {
		t.Error("a number an inch off was not read again")
	}
}
