from __future__ import annotations

from django.db import migrations, models


def from_the_record(apps, schema_editor):
    """Until now the record alone told when an entry left, by the name of its wagon."""
    entries = apps.get_model("entries", "Entry")
    lines = apps.get_model("shows", "AuditEntry")
    for entry in entries.objects.filter(status="scratched"):
        told = lines.objects.filter(
            show=entry.show_id, verb="scratched", subject=f"entry {entry.wagon_name}"
        )
        last = told.order_by("id").last()
        if last is not None:
            entries.objects.filter(pk=entry.pk).update(left_at=last.at)


class Migration(migrations.Migration):
    dependencies = [
        ("entries", "0004_ledger_only_adds"),
        ("shows", "0006_language_of_a_person"),
    ]

    operations = [
        migrations.AddField(
            model_name="entry",
            name="left_at",
            field=models.DateTimeField(
                blank=True, help_text="The show, when scratched.", null=True
            ),
        ),
        migrations.RunPython(from_the_record, migrations.RunPython.noop),
    ]
