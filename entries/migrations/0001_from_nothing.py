# For new databases: does at once what the migrations it replaces did one after another.

import django.db.models.deletion
import entries.models.entry
import entries.models.outfit
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [
        ('entries', '0001_initial'),
        ('entries', '0002_practice_wagon'),
        ('entries', '0003_outfits_money_and_check_in'),
    ]

    initial = True

    dependencies = [
        ('shows', '0003_passkeys'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='CampSpot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField()),
                ('x_ft', models.FloatField()),
                ('y_ft', models.FloatField()),
                ('frontage_ft', models.PositiveIntegerField(default=50)),
                ('depth_ft', models.PositiveIntegerField(default=40)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='shows.show')),
            ],
            options={
                'ordering': ('number',),
                'constraints': [models.UniqueConstraint(fields=('show', 'number'), name='camp_spot_number_once')],
            },
        ),
        migrations.CreateModel(
            name='CampZone',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('fire_lane', 'fire lane'), ('animals', 'animal zone'), ('water', 'water'), ('public', 'public way'), ('other', 'other')], max_length=10)),
                ('name', models.CharField(max_length=60)),
                ('x_ft', models.FloatField()),
                ('y_ft', models.FloatField()),
                ('width_ft', models.PositiveIntegerField()),
                ('depth_ft', models.PositiveIntegerField()),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='shows.show')),
            ],
            options={
                'ordering': ('kind', 'name', 'id'),
                'constraints': [models.UniqueConstraint(fields=('show', 'name'), name='camp_zone_name_once'), models.CheckConstraint(condition=models.Q(('depth_ft__gt', 0), ('width_ft__gt', 0)), name='camp_zone_has_a_size')],
            },
        ),
        migrations.CreateModel(
            name='Entry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(blank=True, null=True)),
                ('wagon_name', models.CharField(max_length=80)),
                ('outfit', models.CharField(blank=True, max_length=80)),
                ('history', models.TextField(blank=True)),
                ('tongue', models.CharField(choices=[('drop', 'drop tongue'), ('stiff', 'stiff tongue')], max_length=20, verbose_name='Tongue')),
                ('hitch', models.CharField(choices=[('team', 'team of two'), ('four_up', 'four-up'), ('six_up', 'six-up')], max_length=20, verbose_name='Hitch')),
                ('draft', models.CharField(choices=[('leather', 'leather tugs'), ('chain', 'trace chains')], max_length=20, verbose_name='Draft')),
                ('pattern', models.CharField(choices=[('civil', 'civil pattern'), ('military', 'military pattern')], max_length=20, verbose_name='Harness pattern')),
                ('holdback', models.CharField(choices=[('pole_strap', 'pole straps'), ('side_backer', 'side-backer')], max_length=20, verbose_name='Holdback')),
                ('status', models.CharField(choices=[('entered', 'entered'), ('confirmed', 'confirmed'), ('waiting', 'waiting'), ('offered', 'offered'), ('scratched', 'scratched'), ('practice', 'practice')], max_length=20)),
                ('status_reason', models.CharField(blank=True, max_length=200)),
                ('entered_at', models.DateTimeField()),
                ('depth_ft', models.PositiveIntegerField(blank=True, help_text='Of the camp.', null=True)),
                ('dietary_notes', models.TextField(blank=True)),
                ('emergency_name', models.CharField(blank=True, max_length=120)),
                ('emergency_phone', models.CharField(blank=True, max_length=40)),
                ('frontage_ft', models.PositiveIntegerField(blank=True, help_text='Of the camp.', null=True)),
                ('offered_at', models.DateTimeField(blank=True, help_text='Promoted from the list.', null=True)),
                ('photo', models.FileField(blank=True, max_length=160, upload_to=entries.models.entry.entry_photo_name)),
                ('take_up_by', models.DateTimeField(blank=True, null=True)),
                ('waiver_agreed_at', models.DateTimeField(blank=True, null=True)),
                ('waiver_agreed_by', models.CharField(blank=True, help_text='As typed.', max_length=120)),
                ('waiver_version', models.PositiveIntegerField(blank=True, help_text='Agreed to.', null=True)),
                ('exhibitor', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shows.show')),
                ('spot', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.campspot')),
            ],
            options={
                'verbose_name_plural': 'entries',
                'ordering': ('number', 'id'),
                'constraints': [models.UniqueConstraint(condition=models.Q(('number__isnull', False)), fields=('show', 'number'), name='entry_number_once_a_show'), models.CheckConstraint(condition=models.Q(('number__isnull', False), models.Q(('status', 'confirmed'), _negated=True), _connector='OR'), name='confirmed_entry_has_number'), models.CheckConstraint(condition=models.Q(('take_up_by__isnull', False), models.Q(('status', 'offered'), _negated=True), _connector='OR'), name='offered_place_has_deadline')],
            },
        ),
        migrations.CreateModel(
            name='CrewMember',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('role', models.CharField(choices=[('head_cook', 'head cook'), ('cook', 'cook'), ('helper', 'helper')], max_length=20)),
                ('under_age', models.BooleanField(default=False, help_text='Never named outside the office.')),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='crew', to='entries.entry')),
            ],
            options={
                'ordering': ('id',),
            },
        ),
        migrations.CreateModel(
            name='CrewChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('what', models.CharField(choices=[('added', 'added'), ('removed', 'taken off'), ('changed', 'changed')], max_length=10)),
                ('name', models.CharField(max_length=120)),
                ('role', models.CharField(choices=[('head_cook', 'head cook'), ('cook', 'cook'), ('helper', 'helper')], max_length=20)),
                ('before', models.CharField(blank=True, help_text='Name and part till then.', max_length=160)),
                ('after_freeze', models.BooleanField(default=False)),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='entries.entry')),
            ],
            options={
                'ordering': ('-id',),
            },
        ),
        migrations.CreateModel(
            name='CheckIn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('arrived_at', models.DateTimeField(blank=True, null=True)),
                ('papers_seen_at', models.DateTimeField(blank=True, null=True)),
                ('crew_seen_at', models.DateTimeField(blank=True, null=True)),
                ('plate_given_at', models.DateTimeField(blank=True, null=True)),
                ('on_spot_at', models.DateTimeField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('changed_at', models.DateTimeField()),
                ('changed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.entry')),
            ],
        ),
        migrations.CreateModel(
            name='Animal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80)),
                ('kind', models.CharField(choices=[('horse', 'horse'), ('mule', 'mule'), ('other', 'other')], max_length=10)),
                ('description', models.CharField(blank=True, help_text='Colour, marks, age.', max_length=120)),
                ('eia_tested_on', models.DateField(blank=True, null=True)),
                ('certificate_on', models.DateField(blank=True, null=True)),
                ('papers_seen_at', models.DateTimeField(blank=True, null=True)),
                ('papers_seen_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='animals', to='entries.entry')),
            ],
            options={
                'ordering': ('id',),
            },
        ),
        migrations.CreateModel(
            name='EntryClass',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='classes', to='entries.entry')),
                ('show_class', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shows.showclass')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('entry', 'show_class'), name='entry_once_a_class')],
            },
        ),
        migrations.CreateModel(
            name='EntryDraft',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('typed', models.JSONField(default=dict, help_text='Field names to the values typed.')),
                ('saved_at', models.DateTimeField()),
                ('exhibitor', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='shows.show')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('show', 'exhibitor'), name='draft_once_an_exhibitor')],
            },
        ),
        migrations.CreateModel(
            name='EntryImport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('file_name', models.CharField(max_length=160)),
                ('sha256', models.CharField(max_length=64)),
                ('rows', models.JSONField(default=list, help_text="Each row's values by column, with its line in the file.")),
                ('state', models.CharField(choices=[('read', 'read, not taken yet'), ('taken', 'taken'), ('left', 'left')], default='read', max_length=10)),
                ('read_at', models.DateTimeField()),
                ('settled_at', models.DateTimeField(blank=True, null=True)),
                ('read_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='shows.show')),
            ],
            options={
                'ordering': ('-id',),
            },
        ),
        migrations.CreateModel(
            name='EntryTerms',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('opens_at', models.DateTimeField(blank=True, null=True)),
                ('closes_at', models.DateTimeField(blank=True, null=True)),
                ('promotion_hours', models.PositiveSmallIntegerField(blank=True, help_text='To take up an offered place; none: the office promotes.', null=True)),
                ('deposit_cents', models.PositiveIntegerField(default=0, help_text='Held till after the show.')),
                ('travel_cents', models.PositiveIntegerField(default=0, help_text='Paid to each wagon that came.')),
                ('refund_steps', models.JSONField(default=list, help_text='Each with `until` (a date) and `share_percent`, in order of dates.')),
                ('waiver_text', models.TextField(blank=True)),
                ('waiver_version', models.PositiveIntegerField(default=0, help_text='Raised with each new text.')),
                ('animals_asked', models.BooleanField(default=False)),
                ('eia_max_age_days', models.PositiveIntegerField(blank=True, null=True)),
                ('certificate_max_age_days', models.PositiveIntegerField(blank=True, null=True)),
                ('animal_note', models.TextField(blank=True, help_text="In the show's own words.")),
                ('emergency_asked', models.BooleanField(default=False)),
                ('camp_asked', models.BooleanField(default=False)),
                ('crew_frozen_at', models.DateTimeField(blank=True, help_text='None: when judging starts.', null=True)),
                ('names_judges', models.BooleanField(default=False, help_text='On feedback sheets.')),
                ('show', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='shows.show')),
            ],
            options={
                'verbose_name_plural': 'entry terms',
                'constraints': [models.CheckConstraint(condition=models.Q(('opens_at__isnull', True), ('closes_at__isnull', True), ('opens_at__lt', models.F('closes_at')), _connector='OR'), name='entries_open_before_they_close')],
            },
        ),
        migrations.CreateModel(
            name='OfficeMessage',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('text', models.TextField()),
                ('sent_at', models.DateTimeField()),
                ('entry', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.entry')),
                ('sent_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shows.show')),
            ],
            options={
                'ordering': ('-id',),
            },
        ),
        migrations.CreateModel(
            name='Outfit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('wagon_name', models.CharField(max_length=80)),
                ('name', models.CharField(blank=True, help_text='Ranch, family or club behind it.', max_length=80)),
                ('history', models.TextField(blank=True)),
                ('tongue', models.CharField(choices=[('drop', 'drop tongue'), ('stiff', 'stiff tongue')], max_length=20, verbose_name='Tongue')),
                ('hitch', models.CharField(choices=[('team', 'team of two'), ('four_up', 'four-up'), ('six_up', 'six-up')], max_length=20, verbose_name='Hitch')),
                ('draft', models.CharField(choices=[('leather', 'leather tugs'), ('chain', 'trace chains')], max_length=20, verbose_name='Draft')),
                ('pattern', models.CharField(choices=[('civil', 'civil pattern'), ('military', 'military pattern')], max_length=20, verbose_name='Harness pattern')),
                ('holdback', models.CharField(choices=[('pole_strap', 'pole straps'), ('side_backer', 'side-backer')], max_length=20, verbose_name='Holdback')),
                ('frontage_ft', models.PositiveIntegerField(blank=True, null=True)),
                ('depth_ft', models.PositiveIntegerField(blank=True, null=True)),
                ('photo', models.FileField(blank=True, max_length=160, upload_to=entries.models.outfit.outfit_photo_name)),
                ('kept_at', models.DateTimeField(help_text='Last changed.')),
                ('put_away_at', models.DateTimeField(blank=True, help_text='Offered no more.', null=True)),
                ('exhibitor', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('wagon_name', 'id'),
                'constraints': [models.UniqueConstraint(fields=('exhibitor', 'wagon_name'), name='outfit_once_an_exhibitor')],
            },
        ),
        migrations.AddField(
            model_name='entry',
            name='kept_outfit',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.outfit'),
        ),
        migrations.CreateModel(
            name='Posting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField(help_text='Counts up within the show, without a gap.')),
                ('key', models.UUIDField(help_text='Made by whoever asks: asked twice, posted once.', unique=True)),
                ('kind', models.CharField(choices=[('charge', 'charge'), ('payment', 'payment'), ('refund', 'refund'), ('credit', 'credit'), ('travel', 'travel money'), ('purse', 'purse'), ('reversal', 'reversal')], max_length=10)),
                ('words', models.CharField(help_text='What it is for.', max_length=160)),
                ('method', models.CharField(blank=True, choices=[('', '-'), ('cash', 'cash'), ('cheque', 'cheque'), ('transfer', 'bank transfer'), ('online', 'online')], max_length=10)),
                ('reference', models.CharField(blank=True, help_text='Cheque number and such.', max_length=80)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('entry', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.entry')),
                ('reverses', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reversed_by', to='entries.posting')),
                ('show', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shows.show')),
            ],
            options={
                'ordering': ('show', 'number'),
                'constraints': [models.UniqueConstraint(fields=('show', 'number'), name='posting_number_once_a_show'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'reversal'), ('reverses__isnull', False)), models.Q(models.Q(('kind', 'reversal'), _negated=True), ('reverses__isnull', True)), _connector='OR'), name='reversal_says_what_it_reverses'), models.CheckConstraint(condition=models.Q(('reverses__isnull', True), models.Q(('reverses', models.F('id')), _negated=True), _connector='OR'), name='posting_reverses_another')],
            },
        ),
        migrations.CreateModel(
            name='OnlinePayment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('amount_cents', models.PositiveIntegerField()),
                ('provider', models.CharField(max_length=40)),
                ('reference', models.CharField(help_text="The provider's own.", max_length=120)),
                ('state', models.CharField(choices=[('started', 'started'), ('paid', 'paid'), ('failed', 'failed'), ('cancelled', 'cancelled')], default='started', max_length=10)),
                ('started_at', models.DateTimeField()),
                ('settled_at', models.DateTimeField(blank=True, null=True)),
                ('entry', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.entry')),
                ('started_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('posting', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='entries.posting')),
            ],
            options={
                'ordering': ('-id',),
                'constraints': [models.UniqueConstraint(fields=('provider', 'reference'), name='online_payment_reference_once'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'paid'), _negated=True), ('posting__isnull', False), _connector='OR'), name='paid_online_is_posted')],
            },
        ),
        migrations.CreateModel(
            name='PostingLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('account', models.CharField(choices=[('exhibitors', 'owed by exhibitors'), ('cash', 'cash box'), ('cheques', 'cheques in hand'), ('bank', 'bank'), ('online', 'online payments on their way'), ('deposits', 'deposits held'), ('fees', 'entry fees'), ('travel', 'travel money'), ('purse', 'purse'), ('other', 'other')], max_length=12)),
                ('amount_cents', models.BigIntegerField(help_text='Debit above zero, credit below.')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='entries.posting')),
            ],
            options={
                'ordering': ('id',),
                'constraints': [models.CheckConstraint(condition=models.Q(('amount_cents', 0), _negated=True), name='posting_line_is_not_zero')],
            },
        ),
    ]
