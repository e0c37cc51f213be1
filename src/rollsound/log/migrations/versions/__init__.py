"""One module a step, run in order by ``rollsound.log.schema``. A step that was released is never changed."""
