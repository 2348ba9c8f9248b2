package draw

import (
	"fmt"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// HookEvent is an event as the command line writes it: job-signed.
func HookEvent(e rowdatumv1.HookEvent) string {
	return strings.ToLower(strings.ReplaceAll(e.String(), "_", "-"))
}

// Hooks lists hooks.
func Hooks(hooks []*rowdatumv1.Hook) string {
	var p page
	if len(hooks) == 0 {
		p.line("There are no hooks yet. Add one with: rowdatum hook add https://…")
	}
	for _, h := range hooks {
		var events []string
		for _, e := range h.GetEvents() {
			events = append(events, HookEvent(e))
		}
		text := fmt.Sprintf("%s hears of %s", h.GetUrl(), strings.Join(events, ", "))
		if h.GetPaused() {
			text += "; paused"
		}
		p.wrapped(left(id(h.GetName()), max(20, len(id(h.GetName()))))+"  ", text)
	}
	return p.String()
}

// HookSecret tells a hook's secret, which no other answer will.
func HookSecret(h *rowdatumv1.Hook) string {
	var p page
	p.line("%s", h.GetName())
	p.line("%s", h.GetSecret())
	p.wrapped("", "Keep the secret where the receiver checks signatures: it is not told again.")
	if until := h.GetOldSecretUntil(); until != nil {
		p.wrapped("", fmt.Sprintf("Deliveries are signed with the one before as well until %s.", moment(until)))
	}
	return p.String()
}

// Deliveries lists what was sent, or is to be.
func Deliveries(deliveries []*rowdatumv1.Delivery) string {
	var p page
	if len(deliveries) == 0 {
		p.line("There are no such deliveries.")
	}
	for _, d := range deliveries {
		state := strings.ToLower(d.GetState().String())
		text := fmt.Sprintf("%s, %s of %s", d.GetName(), HookEvent(d.GetEvent()), d.GetJob())
		if d.GetProblem() != "" {
			text += fmt.Sprintf("; tried %d times: %s", d.GetAttempts(), d.GetProblem())
		}
		p.wrapped(fmt.Sprintf("%s  %s  ", moment(d.GetCreateTime()), left(state, 9)), text)
	}
	return p.String()
}
