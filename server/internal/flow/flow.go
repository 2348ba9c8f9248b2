package flow

import (
	"context"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/plan"
)

// Mechanisms answers for the installed styles. Its errors are leveling.Errors: FailedState with reason
// STYLE_NOT_INSTALLED, Unavailable, DeadlineExceeded or Internal where an adjuster fails.
type Mechanisms interface {
	// Styles lists the installed styles by id.
	Styles(ctx context.Context, v leveling.Voice) ([]leveling.Style, error)
	// Style returns one; NotFound where it is not installed.
	Style(ctx context.Context, id string, v leveling.Voice) (leveling.Style, error)
	// Options answers for every row of the question, in its order. The answer is shared: nobody changes it.
	Options(ctx context.Context, style string, q leveling.OptionsQuestion) ([]leveling.RowOptions, error)
	// Say words every choice, in their order. Choices index figures.
	Say(ctx context.Context, style string, figures []leveling.JSON, choices []leveling.Choice, v leveling.Voice) ([]leveling.Words, error)
}

// Flow runs the use-cases. Its methods may be called side by side.
type Flow struct {
	Mechanisms Mechanisms
	Store      Store
	Now        func() leveling.Micros // the clock
	// HooksToPrivate lets hooks be addresses of this machine and of private networks.
	HooksToPrivate bool
	planner        plan.Planner
	folded         folded
	read           readNews
	catching       catching
}
