# For new databases: does at once what the migrations it replaces did one after another.

import django.db.models.deletion
import reports.models.paper
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [
        ('reports', '0001_initial'),
        ('reports', '0002_wall_sheets_and_paper_cards'),
        ('reports', '0003_papers_of_all_kinds'),
        ('reports', '0004_bundles'),
    ]

    initial = True

    dependencies = [
        ('entries', '0003_outfits_money_and_check_in'),
        ('judging', '0006_results_people_can_believe'),
        ('shows', '0003_passkeys'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Paper',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('award', 'award sheet'), ('feedback', 'feedback sheet'), ('wall', 'wall sheet'), ('card', 'paper cards'), ('certificate', 'certificate'), ('record', 'record of results'), ('calls', "announcer's list"), ('purse', 'purse sheet'), ('signs', 'camp signs'), ('plates', 'number plates'), ('study', 'study sheet of parts'), ('receipt', 'receipt'), ('report', "judge's own report"), ('bundle', 'bundle of papers'), ('book', 'book of papers')], max_length=12)),
                ('version', models.PositiveIntegerField(help_text="Of the result, or the announcement's or the printing's number.")),
                ('state', models.CharField(choices=[('wanted', 'waits for a worker'), ('drawing', 'being drawn'), ('done', 'ready'), ('failed', 'could not be drawn'), ('cancelled', 'cancelled')], default='wanted', max_length=10)),
                ('code', models.CharField(help_text='Printed; checks the paper.', max_length=16, unique=True)),
                ('content_hash', models.CharField(blank=True, help_text='SHA-256 of the file.', max_length=64)),
                ('file', models.FileField(blank=True, max_length=160, upload_to=reports.models.paper.file_name)),
                ('pages', models.PositiveIntegerField(blank=True, null=True)),
                ('wanted_at', models.DateTimeField()),
                ('queued_at', models.DateTimeField(blank=True, help_text='By the last sweep.', null=True)),
                ('claimed_at', models.DateTimeField(blank=True, null=True)),
                ('claim_expires_at', models.DateTimeField(blank=True, null=True)),
                ('attempts', models.PositiveIntegerField(default=0)),
                ('error', models.CharField(blank=True, max_length=300)),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('entry', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.entry')),
                ('judge', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='judging.judge')),
                ('posting', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.posting')),
                ('result', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='judging.result')),
                ('scorecard', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='judging.scorecard')),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shows.show')),
                ('show_class', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shows.showclass')),
                ('wanted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('show_class__position', 'kind', 'entry__number', '-version'),
                'indexes': [models.Index(fields=['state', 'wanted_at'], name='paper_by_state')],
                'constraints': [models.UniqueConstraint(fields=('kind', 'entry', 'show_class', 'version'), name='paper_once_a_version'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'done'), _negated=True), models.Q(('file', ''), ('content_hash', ''), _connector='OR', _negated=True), _connector='OR'), name='done_paper_has_file'), models.UniqueConstraint(condition=models.Q(('kind__in', ('record', 'calls', 'purse'))), fields=('result', 'kind'), name='paper_of_result_once_a_kind'), models.UniqueConstraint(condition=models.Q(('kind__in', ('card', 'report'))), fields=('judge', 'kind', 'version'), name='printing_once_a_judge'), models.UniqueConstraint(condition=models.Q(('kind', 'receipt')), fields=('posting',), name='receipt_once_a_posting'), models.UniqueConstraint(condition=models.Q(('kind__in', ('wall', 'signs', 'plates', 'study', 'bundle', 'book'))), fields=('show', 'kind', 'version'), name='paper_of_show_once_a_version'), models.CheckConstraint(condition=models.Q(models.Q(('entry__isnull', False), ('judge__isnull', True), ('kind__in', ('award', 'feedback', 'certificate')), ('posting__isnull', True), ('result__isnull', False), ('scorecard__isnull', True), ('show_class__isnull', False)), models.Q(('entry__isnull', True), ('judge__isnull', True), ('kind__in', ('record', 'calls', 'purse')), ('posting__isnull', True), ('result__isnull', False), ('scorecard__isnull', True), ('show_class__isnull', False)), models.Q(('entry__isnull', True), ('judge__isnull', True), ('kind__in', ('wall', 'signs', 'plates', 'study', 'bundle', 'book')), ('posting__isnull', True), ('result__isnull', True), ('scorecard__isnull', True), ('show_class__isnull', True)), models.Q(('judge__isnull', False), ('kind__in', ('card',)), ('posting__isnull', True), ('result__isnull', True), ('scorecard__isnull', False), ('show_class__isnull', True)), models.Q(('entry__isnull', True), ('judge__isnull', False), ('kind__in', ('report',)), ('posting__isnull', True), ('result__isnull', True), ('scorecard__isnull', True), ('show_class__isnull', True)), models.Q(('entry__isnull', False), ('judge__isnull', True), ('kind__in', ('receipt',)), ('posting__isnull', False), ('result__isnull', True), ('scorecard__isnull', True), ('show_class__isnull', True)), _connector='OR'), name='paper_is_of_what_its_kind_says')],
            },
        ),
        migrations.CreateModel(
            name='BundlePart',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveIntegerField()),
                ('bundle', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='reports.paper')),
                ('paper', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='reports.paper')),
            ],
            options={
                'ordering': ('position',),
                'constraints': [models.UniqueConstraint(fields=('bundle', 'paper'), name='paper_once_a_bundle'), models.UniqueConstraint(fields=('bundle', 'position'), name='bundle_place_once')],
            },
        ),
    ]
