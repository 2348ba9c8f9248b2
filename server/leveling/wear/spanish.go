package wear

var spanish = phrases{
	method: "mínimos cuadrados generalizados sobre la cadena de profundidades de cada surco, quitado lo que las lecturas de una visita tienen en común; respecto del promedio del tercio central de los surcos",

	notEnough: "historia insuficiente: %d de al menos 3 visitas comparables desde la última pieza cambiada",
	deeper:    "se va más hondo que los demás surcos %s cada 100 %s (%s a %s)",
	shallower: "se va menos hondo que los demás surcos %s cada 100 %s (%s a %s)",
	unlike:    "; eso difiere del resto: revise si hay piezas gastadas o equivocadas",
	usedUp:    "; su recorrido está agotado",
	between:   "; su recorrido alcanza para %s a %s %s más",
	atLeast:   "; su recorrido alcanza para %s %s más por lo menos",
	noEnd:     "; no se ve fin de su recorrido",

	about:      "%s: %s.",
	wornUnlike: "desgaste distinto del resto; revise antes de la temporada y pida piezas a tiempo",
	fewRows:    "Muy pocos surcos tienen historia, o comparten muy pocas visitas, para distinguir el desgaste de un surco de lo que todos tienen en común.",
	fewVisits:  "Visitas firmadas con área conocida: %d. El desgaste se dice desde 3.",
	edge:       "%s, los de borde: se van respecto de los demás %s cada 100 %s (%s por casualidad si fueran iguales).",
	scatter:    "Las lecturas se apartan de sus rectas %s veces lo que su incertidumbre dice: piezas cambiadas sin anotar, o desgaste a saltos.",
	relative:   "Lo que todos los surcos se gastan por igual no se ve en lecturas relativas entre sí.",
}
