package flow

import (
	"context"

	"rowdatum/server/leveling"
)

// Style returns one installed style; NotFound where there is none of that id.
func (f *Flow) Style(ctx context.Context, id string, v leveling.Voice) (leveling.Style, error) {
	return f.Mechanisms.Style(ctx, id, v)
}

// Styles returns up to size installed styles by id, those after the id `after`, and whether there are
// more.
func (f *Flow) Styles(ctx context.Context, after string, size int, v leveling.Voice) (page []leveling.Style, more bool, err error) {
	all, err := f.Mechanisms.Styles(ctx, v)
	if err != nil {
		return nil, false, err
	}
	for _, style := range all {
		if style.ID <= after {
			continue
		}
		if len(page) == size {
			return page, true, nil
		}
		page = append(page, style)
	}
	return page, false, nil
}
