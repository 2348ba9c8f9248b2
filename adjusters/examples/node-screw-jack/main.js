'use strict';
const jack = require('./jack.js');
const { serve } = require('./plugin.js');

serve({
  describe: (r) => ({ style: jack.describe(r.language) }),
  options: (r) => ({ rows: r.rows.map((row) => jack.options(r.mechanisms[row.mechanism].figures, row.setting)) }),
  say: (r) => ({ words: r.choices.map((c) => jack.say(r.mechanisms[c.mechanism].figures, c.option, r.language)) }),
}).catch((error) => {
  console.error(error.stack);
  process.exit(1);
});
