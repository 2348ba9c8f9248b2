package sheet

import (
	"fmt"
	"math"
	"slices"
	"unicode/utf8"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// drawing is a picture in points of a plane that is Wide by Tall; whoever sets the page scales it.
type drawing struct {
	Wide, Tall float64
	Shapes     []shape
}

// shape is one stroke, area or word.
type shape struct {
	Points []point // a line, or with Closed an area; one point: the middle of a circle, or where Text stands
	Closed bool
	Radius float64
	Fill   *float64 // gray from 0, black, to 1; nil: none
	Stroke float64  // width, 0: none
	Gray   float64  // of stroke and text
	Dashed bool
	Text   string
	Size   float64
	Anchor anchor
}

type point struct{ X, Y float64 }

type anchor int

const (
	atStart anchor = iota
	atMiddle
	atEnd
)

// The grays; everything is told apart without them too.
const (
	black, dark, pale, white = 0.0, 0.35, 0.9, 1.0
	midGray                  = 0.72
)

func fill(gray float64) *float64 { return &gray }

// The picture's places, mm on A4.
const (
	pictureWide             = 180.0
	frameLeft               = 15.0
	groundY, topY, bottomY  = 2.0, 7.0, 38.0
	numbersY, keyY, keyStep = 43.5, 50.0, 4.6
	letters                 = 2.6 // size of letters
	mostStep                = 20.0
	leastMm                 = 2.0 // of depth that the picture is tall
	perLetter               = 0.5 // of the size: how wide a letter is taken to be
)

// sketch draws all rows.
type sketch struct {
	*Sheet
	drawing
	low, high   float64 // depths at topY and bottomY, mm
	least, most float64 // depths of rows, mm
	step, r     float64
}

func (s *Sheet) picture() drawing {
	n := float64(len(s.s.Rows))
	k := sketch{Sheet: s, drawing: drawing{Wide: pictureWide}, step: min(mostStep, (pictureWide-frameLeft)/n)}
	k.r = min(1.9, k.step*0.32)
	if k.bounds() {
		k.band()
		k.axis()
	}
	k.line(dark, 0.5, false, point{frameLeft, groundY}, point{k.x(n - 0.5), groundY})
	k.folds()
	for i := range s.s.Rows {
		k.row(i, &s.s.Rows[i])
	}
	k.key()
	return k.drawing
}

// bounds takes the depths that the picture has to show; false where there are none.
func (k *sketch) bounds() bool {
	var all []float64
	for i := range k.s.Rows {
		if d := k.s.Rows[i].AsFound; d != nil {
			all = append(all, d.Mm)
		}
		if k.s.Rows[i].Known {
			all = append(all, k.s.Rows[i].Estimate.DepthMm)
		}
	}
	if len(all) == 0 {
		return false
	}
	k.least, k.most = slices.Min(all), slices.Max(all)
	if d := k.s.DatumMm; d != nil {
		around := k.s.Aim.ToleranceMm * 1.3
		all = append(all, *d-around, *d+around)
	}
	k.low, k.high = slices.Min(all), slices.Max(all)
	if wide := k.high - k.low; wide < leastMm {
		k.low, k.high = k.low-(leastMm-wide)/2, k.high+(leastMm-wide)/2
	}
	return true
}

func (k *sketch) x(i float64) float64 { return frameLeft + k.step*(i+0.5) }

func (k *sketch) y(mm float64) float64 { return topY + (mm-k.low)/(k.high-k.low)*(bottomY-topY) }

func (k *sketch) add(s shape) { k.Shapes = append(k.Shapes, s) }

func (k *sketch) line(gray, width float64, dashed bool, points ...point) {
	k.add(shape{Points: points, Stroke: width, Gray: gray, Dashed: dashed})
}

func (k *sketch) text(x, y float64, a anchor, text string) {
	k.add(shape{Points: []point{{x, y}}, Text: text, Size: letters, Anchor: a})
}

func (k *sketch) right() float64 { return k.x(float64(len(k.s.Rows)) - 0.5) }

// band draws the datum and its tolerance.
func (k *sketch) band() {
	if k.s.DatumMm == nil {
		return
	}
	datum, tolerance := *k.s.DatumMm, k.s.Aim.ToleranceMm
	top, bottom := k.y(datum-tolerance), k.y(datum+tolerance)
	k.add(shape{Points: []point{{frameLeft, top}, {k.right(), top}, {k.right(), bottom}, {frameLeft, bottom}}, Closed: true, Fill: fill(pale)})
	k.line(black, 0.25, true, point{frameLeft, k.y(datum)}, point{k.right(), k.y(datum)})
}

// axis says a few depths at the side, those that matter most first, where there is room.
func (k *sketch) axis() {
	var depths []float64
	if d := k.s.DatumMm; d != nil {
		depths = append(depths, *d, *d-k.s.Aim.ToleranceMm, *d+k.s.Aim.ToleranceMm)
	}
	taken := map[string]float64{}
	for _, mm := range append(depths, k.least, k.most) {
		y, says := k.y(mm), k.bare(mm)
		_, said := taken[says] // a coarse ruling says neighbors alike
		for _, other := range taken {
			said = said || math.Abs(other-y) < letters*1.25
		}
		if !said {
			taken[says] = y
			k.text(frameLeft-1.5, y+letters*0.36, atEnd, says)
		}
	}
}

// folds shows where the frame folds.
func (k *sketch) folds() {
	for _, section := range k.s.Opened.Planter.Sections {
		i := slices.IndexFunc(k.s.Rows, func(r job.RowState) bool { return r.Row >= section.FirstRow })
		if i > 0 {
			x := k.x(float64(i) - 0.5)
			k.line(midGray, 0.2, true, point{x, groundY - 1.5}, point{x, numbersY})
		}
	}
}

func (k *sketch) row(i int, r *job.RowState) {
	x := k.x(float64(i))
	every := int(math.Ceil(2 * letters / k.step))
	if i%every == 0 {
		k.text(x, numbersY, atMiddle, fmt.Sprint(r.Row))
	}
	found := r.AsFound != nil
	switch {
	case !found && !r.Known:
		k.line(dark, 0.2, true, point{x, groundY}, point{x, topY})
		return
	case !r.Known:
		k.stem(x, r.AsFound.Mm)
		k.found(x, k.y(r.AsFound.Mm))
		return
	}
	k.stem(x, r.Estimate.DepthMm)
	y := k.y(r.Estimate.DepthMm)
	if found && math.Abs(k.y(r.AsFound.Mm)-y) > 0.3 {
		from := k.y(r.AsFound.Mm)
		k.line(dark, 0.2, true, point{x, from}, point{x, y})
		k.found(x, from)
	}
	k.left(x, y, r.Verdict, r.Measured)
}

func (k *sketch) stem(x, mm float64) {
	k.line(dark, 0.25, false, point{x, groundY}, point{x, k.y(mm)})
}

func (k *sketch) found(x, y float64) {
	k.add(shape{Points: []point{{x, y}}, Radius: k.r * 0.8, Fill: fill(white), Stroke: 0.25, Gray: black})
}

// left draws the row as left: its shape is its verdict, its filling whether it was read.
func (k *sketch) left(x, y float64, v leveling.Verdict, read bool) {
	gray := black
	if !read {
		gray = midGray
	}
	s := shape{Fill: fill(gray), Stroke: 0.25, Closed: true}
	switch r := k.r; v {
	case leveling.Off, leveling.Stuck:
		r *= 1.15
		s.Points = []point{{x, y - r}, {x + r, y}, {x, y + r}, {x - r, y}}
	case leveling.Unsure:
		r *= 0.85
		s.Points = []point{{x - r, y - r}, {x + r, y - r}, {x + r, y + r}, {x - r, y + r}}
	default:
		s.Points, s.Radius = []point{{x, y}}, r
	}
	k.add(s)
}

// key says what the shapes mean, of those that occur.
func (k *sketch) key() {
	has := map[string]bool{}
	for i := range k.s.Rows {
		r := &k.s.Rows[i]
		has["found"] = has["found"] || r.AsFound != nil
		has["left"] = has["left"] || r.Measured
		has["estimated"] = has["estimated"] || r.Known && !r.Measured
		has["unsure"] = has["unsure"] || r.Verdict == leveling.Unsure
		has["off"] = has["off"] || r.Verdict == leveling.Off || r.Verdict == leveling.Stuck
	}
	k.r = 1.4
	x, y := frameLeft, keyY
	for _, e := range []struct {
		shown bool
		says  string
		draw  func(x, y float64)
	}{
		{has["found"], k.p.keyFound, k.found},
		{has["left"], k.p.keyLeft, func(x, y float64) { k.left(x, y, leveling.Even, true) }},
		{has["estimated"], k.p.keyEstimated, func(x, y float64) { k.left(x, y, leveling.Even, false) }},
		{has["unsure"], k.p.keyUnsure, func(x, y float64) { k.left(x, y, leveling.Unsure, true) }},
		{has["off"], k.p.keyOff, func(x, y float64) { k.left(x, y, leveling.Off, true) }},
		{k.s.DatumMm != nil, k.p.keyBand, k.sample},
	} {
		if !e.shown {
			continue
		}
		wide := 4 + float64(utf8.RuneCountInString(e.says))*letters*perLetter + 4
		if x+wide > pictureWide && x > frameLeft {
			x, y = frameLeft, y+keyStep
		}
		e.draw(x+1.4, y)
		k.text(x+4, y+letters*0.36, atStart, e.says)
		x += wide
	}
	k.Tall = y + 2
}

// sample is a bit of the band.
func (k *sketch) sample(x, y float64) {
	k.add(shape{Points: []point{{x - 1.4, y - 1.4}, {x + 1.4, y - 1.4}, {x + 1.4, y + 1.4}, {x - 1.4, y + 1.4}}, Closed: true, Fill: fill(pale)})
	k.line(black, 0.25, true, point{x - 1.4, y}, point{x + 1.4, y})
}
